// Package migrations holds the numbered changes of the database schema, in pairs
// that lead up and down, once for SQLite and once for PostgreSQL: the same
// number and name do the same on both.
//
// A migration only adds within a release, says in prose at its head what happens
// to existing rows, and holds no BEGIN or COMMIT: each file is one transaction.
// schema.sqlite.sql and schema.postgres.sql show the schema that all of them
// together make.
package migrations

import "embed"

// Files holds the migrations under sqlite/ and postgres/, and the two whole schemas.
//
//go:embed sqlite/*.sql postgres/*.sql schema.sqlite.sql schema.postgres.sql
var Files embed.FS

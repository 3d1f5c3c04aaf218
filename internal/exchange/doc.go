// Package exchange turns the whole catalog into a Data Package and back: a zip of one
// table for each noun and for each list of a noun, with a description of every column,
// that spreadsheets, databases and scripts read without this program.
//
// Write makes the files, Archive packs them, Open and Read go the other way, and
// NewPlan tells row by row what taking a package over would do to a stored catalog.
// Everything is bytes in, values out.
//
// # The form
//
//   - datapackage.json is a Data Package descriptor (datapackage.org, profile 2.0, see
//     descriptor.go) in canonical JSON (RFC 8785), with a Table Schema, a primary key and the foreign
//     keys of each table.
//   - Tables are CSV (RFC 4180): UTF-8, commas, lines that end in CR LF, one header row, an
//     empty cell for what is not known. Rows stand by id, rows of lists by parent and position.
//   - A text that a spreadsheet would take for a formula has an apostrophe before it, which is
//     taken away in reading (see Guarded).
//   - Numbers are written so that reading gives the very same one.
//   - The archive holds its entries uncompressed, by name, with one fixed time.
//
// Equal snapshots therefore give equal bytes, and what was written reads as what it was.
// Reading is more lenient than writing, for the sake of spreadsheets: columns may come in
// any order, lines may end in LF, a byte order mark is passed over and entries may be compressed.
package exchange

package catalog

import "time"

// NounEvent names the events of the audit trail, which are no records.
var NounEvent = Noun{"audit event", "event"}

// Action is what a change did to a record.
type Action string

// The actions.
const (
	Added    Action = "added"
	Changed  Action = "changed"
	Deleted  Action = "deleted"
	Restored Action = "restored" // brought back after a deletion
)

// Actions lists the words for actions.
var Actions = []Action{Added, Changed, Deleted, Restored}

// AuditEvent is one stored change of one record. Events are only ever added.
type AuditEvent struct {
	ID              ID
	Noun            Noun
	RecordID        ID
	RecordRevision  int64 // after the change; 1 for prices, which have none
	CatalogRevision int64 // after the change; those of one transaction share it
	Action          Action
	Time            time.Time
	By              string
	Reason          string // empty where none was given
	// Before and After are the record, a value such as a Fill or a Price, as it was before
	// the change and after it. Before is nil for what was added or restored, After for what
	// was deleted.
	Before, After any
}

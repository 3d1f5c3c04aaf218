package catalog

// Changes are records to add and records to put in the place of stored ones with the same
// ids, all at once. The revisions of both snapshots say nothing.
type Changes struct{ Created, Updated Snapshot }

// Held is what a record that no snapshot shows keeps others from taking: the id, slug and name
// of a deleted one, the id of a price of a deleted offer, the former slug of any record.
type Held struct {
	Prefix string // of the noun
	ID     ID
	Slug   Slug   // empty for prices
	Name   string // empty for prices and for former slugs
	Former bool   // only the slug is held, and not against the record itself
}

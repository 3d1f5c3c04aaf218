// Package shortlist holds what a kept choice of options rests on, and what becomes of it when
// prices change. It is pure: snapshots, briefs and answers come in, and go out.
//
// A shortlist is a few options of a ranking. They are ranked alone, and the records on which that
// answer rests are cut out of the catalog, so that whoever has both can find the answer again. After
// building, what came of an option is compared with its estimate.
package shortlist

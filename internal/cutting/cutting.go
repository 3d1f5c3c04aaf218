// Package cutting plans how pieces are cut: frame pieces from boards, pieces of cloth
// from a roll, pieces of fill from batts.
//
// Lengths are computed in whole tenths of a millimetre, costs in whole micro-units of
// money: no binary fraction takes part in a comparison. Every plan says whether it is
// proven the least, and if not how far from a proven bound it is at most.
//
// Source of all definitions: costing_problem.md sections 5 to 7. Simplifications: where the
// search ends unfinished boards are planned by best-fit decreasing, cloth by first-fit
// decreasing height; pieces larger than batts are laid in one family of layouts.
package cutting

import "sabinbook/internal/units"

// Status says how good a plan is known to be.
type Status string

// The states of a plan.
const (
	Optimal    Status = "optimal"    // proven the least
	Feasible   Status = "feasible"   // valid; the bound says what could be saved at most
	Infeasible Status = "infeasible" // some piece fits nowhere
	NotFound   Status = "not_found"  // limited stock only, and the search found no plan
)

// ceilDiv returns ⌈a/b⌉ for a >= 0 and b > 0.
func ceilDiv(a, b int64) int64 { return (a + b - 1) / b }

// ceilMM rounds tenths of a millimetre up to whole millimetres.
func ceilMM(tenths int64) int64 { return ceilDiv(tenths, 10) * 10 }

func positive(lengths ...units.Length) bool {
	for _, l := range lengths {
		if l.Tenths() <= 0 {
			return false
		}
	}
	return true
}

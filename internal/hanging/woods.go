package hanging

import (
	"cmp"
	"slices"

	"sabinbook/internal/units"
)

// Wood is one kind of wood or wood-based panel with the densities that were published of it.
type Wood struct {
	Word string // on the wire
	Name string // as people call it
	// Value is the usual density; 0 where a source tells a range only.
	Value units.Density
	// Gravity is the specific gravity with the mass oven dry and the volume at 12 per cent moisture,
	// 0 where it is not in the table.
	Gravity float64
	// Low and High are a range that the source itself tells, 0 where it tells none.
	Low, High units.Density
	basis     *basis
}

// basis is what a group of woods has in common.
type basis struct {
	source string
	// grown is said of timber as it grew: boards of one kind differ, see boardSpread.
	grown bool
}

// The sources of the densities, as wood_density.csv has them.
var (
	classMeans = &basis{"EN 338 mean densities as tabulated on an engineering reference page, seen in a secondary source", true}
	airDry     = &basis{"Oregon State University species table after the Wood Handbook (USDA FPL, Agriculture Handbook 72): weight air dry, seen in a secondary source", true}
	designLoad = &basis{"EN 1991-1-1:2002 Table A.3, kN/m3 divided by 9.81, a design value on the heavy side; from memory", false}
	plyScope   = &basis{"EN 12369-2:2011 scope, range of mean species density", false}
)

// woods is the table. The characteristic densities of EN 338 (310 for C16, 350 for C24) are left out:
// they serve strength and are a twentieth of all boards, not the usual weight (hanging.md section 3).
// Its rows at 12 per cent moisture are worked out by AtMoisture from the specific gravity.
var woods = []Wood{
	{Word: "c14", Name: "C14 structural timber", Value: 350, basis: classMeans},
	{Word: "c16", Name: "C16 structural timber", Value: 370, basis: classMeans},
	{Word: "c18", Name: "C18 structural timber", Value: 380, basis: classMeans},
	{Word: "c20", Name: "C20 structural timber", Value: 390, basis: classMeans},
	{Word: "c22", Name: "C22 structural timber", Value: 410, basis: classMeans},
	{Word: "c24", Name: "C24 structural timber", Value: 420, basis: classMeans},
	{Word: "c27", Name: "C27 structural timber", Value: 450, basis: classMeans},
	{Word: "c30", Name: "C30 structural timber", Value: 460, basis: classMeans},
	{Word: "c35", Name: "C35 structural timber", Value: 480, basis: classMeans},
	{Word: "c40", Name: "C40 structural timber", Value: 500, basis: classMeans},
	{Word: "c45", Name: "C45 structural timber", Value: 520, basis: classMeans},
	{Word: "c50", Name: "C50 structural timber", Value: 550, basis: classMeans},
	{Word: "d30", Name: "D30 structural timber", Value: 640, basis: classMeans},
	{Word: "d35", Name: "D35 structural timber", Value: 670, basis: classMeans},
	{Word: "d40", Name: "D40 structural timber", Value: 700, basis: classMeans},
	{Word: "d50", Name: "D50 structural timber", Value: 780, basis: classMeans},
	{Word: "d60", Name: "D60 structural timber", Value: 840, basis: classMeans},
	{Word: "d70", Name: "D70 structural timber", Value: 1080, basis: classMeans},
	{Word: "douglas_fir", Name: "Douglas-fir", Value: 545, Gravity: 0.48, basis: airDry},
	{Word: "western_larch", Name: "western larch", Value: 577, Gravity: 0.52, basis: airDry},
	{Word: "engelmann_spruce", Name: "Engelmann spruce", Value: 432, Gravity: 0.35, basis: airDry},
	{Word: "western_hemlock", Name: "western hemlock", Value: 497, Gravity: 0.45, basis: airDry},
	{Word: "noble_fir", Name: "noble fir", Value: 416, Gravity: 0.39, basis: airDry},
	{Word: "subalpine_fir", Name: "subalpine fir", Value: 449, Gravity: 0.32, basis: airDry},
	{Word: "pacific_silver_fir", Name: "Pacific silver fir", Value: 432, Gravity: 0.43, basis: airDry},
	{Word: "california_red_fir", Name: "California red fir", Value: 432, Gravity: 0.38, basis: airDry},
	{Word: "softwood_plywood", Name: "softwood plywood", Value: 510, basis: designLoad},
	{Word: "birch_plywood", Name: "birch plywood", Value: 714, basis: designLoad},
	{Word: "blockboard", Name: "laminboard and blockboard", Value: 459, basis: designLoad},
	{Word: "chipboard", Name: "chipboard", Low: 714, High: 815, basis: designLoad},
	{Word: "osb", Name: "oriented strand board", Value: 714, basis: designLoad},
	{Word: "hardboard", Name: "hardboard", Value: 1019, basis: designLoad},
	{Word: "mdf", Name: "medium density fibreboard (MDF)", Value: 815, basis: designLoad},
	{Word: "softboard", Name: "softboard", Value: 408, basis: designLoad},
	{Word: "plywood", Name: "plywood, any species in EN 12369-2", Low: 350, High: 750, basis: plyScope},
}

// Woods lists the kinds of wood of which the density is known.
func Woods() []Wood { return slices.Clone(woods) }

// woodNamed returns the wood of a word, or nil.
func woodNamed(word string) *Wood {
	if i := slices.IndexFunc(woods, func(w Wood) bool { return w.Word == word }); i >= 0 {
		return &woods[i]
	}
	return nil
}

// boardSpread is how far, as a share, a board may be lighter or heavier than the mean of
// its kind. Convention: the value that a twentieth of all boards stays below is 16 to 17
// per cent below the mean of the class (EN 338: 310 and 370 for C16, 350 and 420 for C24);
// as much is taken above it. The Wood Handbook's coefficient of variation of specific
// gravity, 10 per cent (from memory), times 1.645 says the same.
const boardSpread = 0.17

// usualMoisture is the moisture in per cent of which the table has specific gravities.
const usualMoisture = 12

// AtMoisture returns the density of wood with the specific gravity (volume at 12 per cent moisture) at a
// moisture of up to 30 per cent of its dry mass.
//
//	ρ = 1000 G₀ (1 + M/100) / (1 + 0.009 G₀ M)      G₀ = G₁₂ / (1 − 0.009 · 12 · G₁₂), on oven-dry volume
//
// At 12 per cent that is 1000 G₁₂ · 1.12. Source: Wood Handbook (USDA FPL), as in hanging.md section 3; G₀ is
// the same rule solved for it.
func AtMoisture(gravity12, percent float64) units.Density {
	dry := gravity12 / (1 - 0.009*usualMoisture*gravity12)
	return units.Density(1000 * dry * (1 + percent/100) / (1 + 0.009*dry*percent))
}

// span is a figure with the ends of its range; Stated is false where no range is known,
// and then the ends are the figure.
type span struct {
	value, low, high float64
	stated           bool
}

// density returns the density of the wood with its range, at a moisture when one is given,
// and on what it rests. A range that the source does not tell is boardSpread for grown
// timber, about the rows of the table that apply; boards of which the source tells one
// value have none. Where a source tells a range only, its middle is the value (convention).
func (w Wood) density(moisture *float64) (span, string) {
	low, value, high := float64(w.Low), float64(w.Value), float64(w.High)
	if w.High > 0 {
		return span{cmp.Or(value, (low+high)/2), low, high, true}, w.basis.source
	}
	if !w.basis.grown {
		return span{value, value, value, false}, w.basis.source
	}
	low, high = value, value
	source := w.basis.source
	if moisture != nil {
		value = float64(AtMoisture(w.Gravity, *moisture))
		low, high = value, value
		source = "specific gravity of the Oregon State University species table after the Wood Handbook, by the Wood Handbook's rule for moisture"
	} else if w.Gravity > 0 {
		other := float64(AtMoisture(w.Gravity, usualMoisture))
		low, high = min(value, other), max(value, other)
	}
	return span{value, low * (1 - boardSpread), high * (1 + boardSpread), true}, source + "; range of single boards: convention, 17 % either way"
}

package absorber

import (
	"math"

	"sabinbook/internal/units"
)

// Relation names a published relation of the airflow resistivity of a fibrous fill to its
// bulk density and its fibre.
type Relation string

// The relations. ρ is the bulk density in kg/m³, d the fibre diameter and a = d/2 the radius
// in m, s = ρ/ρ_fibre the solid share, φ = 1 - s, η = 1.84e-5 Pa·s. Where nothing else is said
// the source is Cox and D'Antonio 2017, Acoustic Absorbers and Diffusers, Table 5.1, read
// second hand.
const (
	// GlassFibre: 3.2 η s^1.42/a².
	GlassFibre Relation = "glass_fibre"
	// MineralFibre: 4.4 η s^1.59/a².
	MineralFibre Relation = "mineral_fibre"
	// PolyesterBlanket: 25.989 ρ^1.404, of staple-fibre blankets of 33 µm on average; mean
	// deviation 9.8 % over 37 specimens. Garai and Pompoli 2005, Applied Acoustics 66,
	// 1383-1398, Eq. 2 and Table 2.
	PolyesterBlanket Relation = "polyester_blanket"
	// PolyesterFine: 15e-9 ρ^1.53/d².
	PolyesterFine Relation = "polyester_fine"
	// SheepWool: 490e-6 ρ^1.61/d, the diameter to the first power.
	SheepWool Relation = "sheep_wool"
	// ShortWoodFibre: 20.8 ρ^1.57, about 30 µm.
	ShortWoodFibre Relation = "short_wood_fibre"
	// RecycledFibre: η/d² sqrt(φ)/(0.21 (m - 3 sqrt(m) + 3 - 1/sqrt(m))), m = 0.71/s, of
	// recycled cotton, polyester and mixtures by effective diameter. Santoni et al. 2021,
	// Applied Acoustics (item S0003682X21003662), Eq. 1, the last term read with doubt.
	RecycledFibre Relation = "recycled_fibre"
	// RandomFibre: 4η/a² (0.55 s^(4/3)/φ + sqrt(2) s²/φ³), equal fibres in random directions,
	// for any fibre of known diameter and density.
	RandomFibre Relation = "random_fibre"
)

// Fibre is what a fill is made of. A zero means unknown.
type Fibre struct {
	Diameter units.Diameter
	Density  units.Density // of the solid fibre
}

// relation is what is known of a Relation: its formula, the ranges of density and diameter
// of its source (0, 0 where it prints none) and the fibre to take when nothing is known.
type relation struct {
	sigma                     func(rho, d, s float64) float64
	densityLow, densityHigh   float64
	diameterLow, diameterHigh float64
	usual                     Fibre
}

// viscosityOfRelations is η of the relations, Pa·s, as Cox and D'Antonio 2017 give it.
const viscosityOfRelations = 1.84e-5

// Usual diameters: glass 7 µm and rock 4.8 µm as assumed in the transfer study (absorber
// model ground section 11); sheep wool the middle of its range; cotton the loose recycled
// fibre of Santoni et al. 2021 Table 2; hemp the geometric mean of 22 and 94 µm (convention;
// range from Cox and D'Antonio 2017, second hand). Fibre densities: glass, rock, polyester,
// wool, wood and hemp from memory, common handbook values; cotton Santoni et al. 2021.
var relations = map[Relation]relation{
	GlassFibre: {
		sigma: func(_, d, s float64) float64 { return 3.2 * viscosityOfRelations * math.Pow(s, 1.42) / (d * d / 4) },
		usual: Fibre{Diameter: 7, Density: 2500},
	},
	MineralFibre: {
		sigma: func(_, d, s float64) float64 { return 4.4 * viscosityOfRelations * math.Pow(s, 1.59) / (d * d / 4) },
		usual: Fibre{Diameter: 4.8, Density: 2600},
	},
	PolyesterBlanket: {
		sigma:      func(rho, _, _ float64) float64 { return 25.989 * math.Pow(rho, 1.404) },
		densityLow: 12, densityHigh: 60, diameterLow: 18, diameterHigh: 48,
		usual: Fibre{Diameter: 33, Density: 1380},
	},
	PolyesterFine: {
		sigma:      func(rho, d, _ float64) float64 { return 15e-9 * math.Pow(rho, 1.53) / (d * d) },
		densityLow: 28, densityHigh: 101, diameterLow: 6, diameterHigh: 39,
		usual: Fibre{Diameter: 15, Density: 1380},
	},
	SheepWool: {
		sigma:      func(rho, d, _ float64) float64 { return 490e-6 * math.Pow(rho, 1.61) / d },
		densityLow: 13, densityHigh: 90, diameterLow: 22, diameterHigh: 35,
		usual: Fibre{Diameter: 28, Density: 1310},
	},
	ShortWoodFibre: {
		sigma: func(rho, _, _ float64) float64 { return 20.8 * math.Pow(rho, 1.57) },
		usual: Fibre{Diameter: 30, Density: 1500},
	},
	RecycledFibre: {
		sigma: func(_, d, s float64) float64 {
			m := 0.71 / s
			gap := m - 3*math.Sqrt(m) + 3 - 1/math.Sqrt(m)
			return viscosityOfRelations / (d * d) * math.Sqrt(1-s) / (0.21 * gap)
		},
		densityLow: 50, densityHigh: 160,
		usual: Fibre{Diameter: 20.16, Density: 1500},
	},
	RandomFibre: {
		sigma: func(_, d, s float64) float64 {
			phi := 1 - s
			return 4 * viscosityOfRelations / (d * d / 4) * (0.55*math.Pow(s, 4.0/3)/phi + math.Sqrt2*s*s/(phi*phi*phi))
		},
		usual: Fibre{Diameter: 45, Density: 1480},
	},
}

// spread is the factor by which an estimated resistivity may be wrong both ways (absorber
// model ground section 3).
const spread = 2

// maxSolid is the largest solid share for which a relation is computed (convention: half,
// well below 0.71 where fibres pack and RecycledFibre ends).
const maxSolid = 0.5

// Limits of fibre diameters in µm (convention: only slips lie outside).
const (
	minFibre units.Diameter = 0.1
	maxFibre units.Diameter = 1000
)

// Codes of warnings on an estimate.
const (
	// BulkDensityOutsideRange: bulk density, range of the relation, kg/m³.
	BulkDensityOutsideRange WarningCode = "bulk_density_outside_range"
	// FibreDiameterOutsideRange: fibre diameter, range of the relation, µm.
	FibreDiameterOutsideRange WarningCode = "fibre_diameter_outside_range"
	// FibreDiameterAssumed: the diameter that was taken because none is known, µm.
	FibreDiameterAssumed WarningCode = "fibre_diameter_assumed"
)

// ResistivityEstimate is an airflow resistivity that nobody measured.
type ResistivityEstimate struct {
	Value, Low, High units.AirflowResistivity // half and double the value
	Relation         Relation
	Fibre            Fibre // as taken, assumed values included
	Warnings         []Warning
}

// Estimate returns the resistivity of a fill of a bulk density by the relation; unknown
// properties of the fibre are assumed. It is false for a relation that is not known and
// for figures that are not above 0 or leave no pores.
func (r Relation) Estimate(bulk units.Density, f Fibre) (ResistivityEstimate, bool) {
	rel, known := relations[r]
	plausible := f.Diameter == 0 || (f.Diameter >= minFibre && f.Diameter <= maxFibre)
	if !known || !plausible || !(f.Density >= 0) {
		return ResistivityEstimate{}, false
	}
	e := ResistivityEstimate{Relation: r, Fibre: f}
	warn := func(code WarningCode, value, low, high float64) {
		if high > 0 && (value < low || value > high) {
			e.Warnings = append(e.Warnings, Warning{Code: code, Layer: -1, Value: value, Low: low, High: high})
		}
	}
	if f.Density == 0 {
		e.Fibre.Density = rel.usual.Density
	}
	if f.Diameter == 0 {
		e.Fibre.Diameter = rel.usual.Diameter
		e.Warnings = append(e.Warnings, Warning{Code: FibreDiameterAssumed, Layer: -1, Value: float64(rel.usual.Diameter)})
	}
	solid := float64(bulk / e.Fibre.Density)
	if !(solid > 0 && solid <= maxSolid) {
		return ResistivityEstimate{}, false
	}
	warn(BulkDensityOutsideRange, float64(bulk), rel.densityLow, rel.densityHigh)
	warn(FibreDiameterOutsideRange, float64(e.Fibre.Diameter), rel.diameterLow, rel.diameterHigh)
	e.Value = units.AirflowResistivity(rel.sigma(float64(bulk), e.Fibre.Diameter.Metres(), solid))
	e.Low, e.High = e.Value/spread, e.Value*spread
	return e, true
}

// EstimateResistivity returns the resistivity of a fill of a family, named as the catalog
// names it, by the relation published for that family. Polyester of a known diameter below
// the range of PolyesterBlanket takes PolyesterFine. Families for which no relation to
// density was found (foam, cellulose, wood wool, other) and what Estimate refuses are false.
func EstimateResistivity(family string, bulk units.Density, f Fibre) (ResistivityEstimate, bool) {
	relation, known := map[string]Relation{
		"glass_wool":               GlassFibre,
		"rock_wool":                MineralFibre,
		"mineral_wool_unspecified": MineralFibre,
		"polyester":                PolyesterBlanket,
		"cotton":                   RecycledFibre,
		"sheep_wool":               SheepWool,
		"wood_fibre":               ShortWoodFibre,
		"hemp":                     RandomFibre,
	}[family]
	if !known {
		return ResistivityEstimate{}, false
	}
	if relation == PolyesterBlanket && f.Diameter > 0 && float64(f.Diameter) < relations[PolyesterBlanket].diameterLow {
		relation = PolyesterFine
	}
	return relation.Estimate(bulk, f)
}

package absorber

import (
	"math"
	"math/cmplx"

	"sabinbook/internal/bands"
)

// Model names an equivalent-fluid model of a fill.
type Model string

// The models. All but JCA need the airflow resistivity σ alone.
const (
	// AC92 is Allard and Champoux (1992) in closed form, the default: causal and passive
	// at every frequency, and the most accurate of seven over 82 mineral-wool
	// configurations in Oliva and Hongisto (2013, Applied Acoustics 74, 1473, abstract).
	AC92 Model = "ac92"
	// DelanyBazley is Delany and Bazley (1970), mineral fibre.
	DelanyBazley Model = "delany_bazley"
	// Miki is Miki (1990), mineral fibre, well behaved at low frequency.
	Miki Model = "miki"
	// Komatsu is Komatsu (2008), glass and rock wool.
	Komatsu Model = "komatsu"
	// GaraiPompoli is Garai and Pompoli (2005), polyester fibre.
	GaraiPompoli Model = "garai_pompoli"
	// DunnDavern is Dunn and Davern (1986), foam of low resistivity.
	DunnDavern Model = "dunn_davern"
	// Wu is Wu (1988), foam of medium resistivity.
	Wu Model = "wu"
	// JCA is Johnson, Champoux and Allard with Pores, foams included.
	JCA Model = "jca"
)

// Models lists the models, the default first.
func Models() []Model {
	return []Model{AC92, DelanyBazley, Miki, Komatsu, GaraiPompoli, DunnDavern, Wu, JCA}
}

// fluid is an equivalent fluid relative to the air that fills it.
type fluid struct {
	density complex128 // ρ/ρ0
	index2  complex128 // (k/k0)²
}

// model is what is known of a Model. The ranges are those of its source; 0, 0 if none is known.
type model struct {
	fluid               func(f Fill, air Air, hz float64) fluid
	sigmaLow, sigmaHigh float64
	ratioLow, ratioHigh float64 // of f/σ, times ρ0 unless perSigma
	perSigma            bool
	needsPores          bool
}

// models lists the ranges of validity: ac92 absorber model ground section 1; 0.01 to 1 the
// power laws (Delany and Bazley 1970; Miki 1990; for the others the same convention);
// Garai and Pompoli 900 to 8500 Pa·s/m² from memory; Komatsu f/σ below 100, where its
// logarithm ends.
var models = map[Model]model{
	AC92:         {fluid: ac92, sigmaLow: 1000, sigmaHigh: 100_000},
	DelanyBazley: {fluid: delanyBazley.fluid, ratioLow: 0.01, ratioHigh: 1},
	Miki:         {fluid: miki.fluid, ratioLow: 0.01, ratioHigh: 1, perSigma: true},
	Komatsu:      {fluid: komatsu, ratioHigh: 100, perSigma: true},
	GaraiPompoli: {fluid: garaiPompoli.fluid, sigmaLow: 900, sigmaHigh: 8500, ratioLow: 0.01, ratioHigh: 1},
	DunnDavern:   {fluid: dunnDavern.fluid, ratioLow: 0.01, ratioHigh: 1},
	Wu:           {fluid: wu.fluid, ratioLow: 0.01, ratioHigh: 1},
	JCA:          {fluid: jca, needsPores: true},
}

// ratio returns the frequency over σ on which the model is built.
func (m model) ratio(f Fill, air Air, hz float64) float64 {
	if m.perSigma {
		return hz / float64(f.Resistivity)
	}
	return air.Density() * hz / float64(f.Resistivity)
}

// fluid returns the equivalent fluid of the fill, its frame limp if its density is given.
//
//	ρ_limp = (r ρ - ρ0²)/(r + ρ - 2 ρ0),  r = M + φ ρ0,  bulk modulus unchanged
//
// Source: Panneton 2007, JASA 122, EL217, from memory.
func (f Fill) fluid(air Air, hz float64) fluid {
	fl := models[f.named()].fluid(f, air, hz)
	if f.FrameDensity == 0 {
		return fl
	}
	porosity := 1.0
	if f.named() == JCA {
		porosity = float64(f.Pores.Porosity)
	}
	r := complex(float64(f.FrameDensity)/air.Density()+porosity, 0)
	limp := (r*fl.density - 1) / (r + fl.density - 2)
	return fluid{density: limp, index2: fl.index2 * limp / fl.density}
}

func (f Fill) warnings(air Air) []Warning {
	m, sigma := models[f.named()], float64(f.Resistivity)
	var all []Warning
	if m.sigmaHigh > 0 && (sigma < m.sigmaLow || sigma > m.sigmaHigh) {
		all = append(all, Warning{Code: ResistivityOutsideRange, Value: sigma, Low: m.sigmaLow, High: m.sigmaHigh})
	}
	if m.ratioHigh > 0 {
		last := bands.Band(bands.ThirdCount - 1)
		for _, x := range []float64{m.ratio(f, air, bands.Band(0).Centre()), m.ratio(f, air, last.Centre())} {
			if x < m.ratioLow || x > m.ratioHigh {
				all = append(all, Warning{Code: FrequencyRatioOutsideRange, Value: x, Low: m.ratioLow, High: m.ratioHigh})
			}
		}
	}
	if m.needsPores && f.Pores.ThermalLength < f.Pores.ViscousLength {
		all = append(all, Warning{Code: ThermalLengthBelowViscous, Value: float64(f.Pores.ThermalLength), Low: float64(f.Pores.ViscousLength)})
	}
	return all
}

// ac92 is the closed form of Allard and Champoux 1992, JASA 91, 3346, as JCA with
// porosity and tortuosity 1, Λ = sqrt(8η/σ), Λ' = 2Λ:
//
//	X = ρ0 f/σ
//	ρ = ρ0 [1 + sqrt(1 + jπX)/(j2πX)]
//	a = sqrt(1 + j4πPr X)/(j8πPr X)
//	K = 1.4 p0 (1 + a)/(1 + 1.4 a)
//
// The printed coefficients of the paper (from memory) agree to 0.4 % in ρ and 0.2 % in k.
func ac92(f Fill, air Air, hz float64) fluid {
	x := math.Pi * air.Density() * hz / float64(f.Resistivity)
	density := 1 + cmplx.Sqrt(complex(1, x))/complex(0, 2*x)
	a := cmplx.Sqrt(complex(1, 4*prandtl*x)) / complex(0, 8*prandtl*x)
	return fluid{density: density, index2: density * (1 + heatRatio*a) / (1 + a)}
}

// powerLaw holds the coefficients and exponents of
//
//	Zc/(ρ0c0) = 1 + c1 X^-c2 - j c3 X^-c4
//	k/k0      = 1 + p1 X^-p2 - j a1 X^-a2
//
// with X = ρ0 f/σ, or f/σ if perSigma.
type powerLaw struct {
	c1, c2, c3, c4 float64
	p1, p2, a1, a2 float64
	perSigma       bool
}

// Sources: Bies, Hansen and Howard 2017 Table D.1 p. 728, and Miki 1990, J. Acoust. Soc.
// Jpn (E) 11, 19, Eq. 30-34, both read second hand. The copy that was read lists the last
// four numbers of the polyester and foam sets in the opposite order, which would give
// negative absorption; here phase stands before attenuation in every set.
var (
	delanyBazley = powerLaw{0.0571, 0.754, 0.087, 0.732, 0.0978, 0.700, 0.189, 0.595, false}
	garaiPompoli = powerLaw{0.078, 0.623, 0.074, 0.660, 0.121, 0.530, 0.159, 0.571, false}
	dunnDavern   = powerLaw{0.114, 0.369, 0.0985, 0.758, 0.136, 0.491, 0.168, 0.715, false}
	wu           = powerLaw{0.212, 0.455, 0.105, 0.607, 0.188, 0.544, 0.163, 0.592, false}
	miki         = powerLaw{0.070, 0.632, 0.107, 0.632, 0.109, 0.618, 0.160, 0.618, true}
)

func (p powerLaw) fluid(f Fill, air Air, hz float64) fluid {
	x := hz / float64(f.Resistivity)
	if !p.perSigma {
		x *= air.Density()
	}
	zc, k := p.at(x)
	return fromImpedance(zc, k)
}

// at returns Zc/(ρ0c0) and k/k0.
func (p powerLaw) at(x float64) (zc, k complex128) {
	zc = complex(1+p.c1*math.Pow(x, -p.c2), -p.c3*math.Pow(x, -p.c4))
	k = complex(1+p.p1*math.Pow(x, -p.p2), -p.a1*math.Pow(x, -p.a2))
	return zc, k
}

// fromImpedance returns the fluid of characteristic impedance zc and wave number k,
// both relative to air: ρ = Zc k/ω.
func fromImpedance(zc, k complex128) fluid { return fluid{density: zc * k, index2: k * k} }

// komatsu is Komatsu 2008, Acoust. Sci. Tech. 29, 121:
//
//	s = 2 - log10(f/σ)
//	Zc/(ρ0c0) = 1 + 0.00027 s^6.2 - j 0.0047 s^4.1
//	k/k0      = 1 + 0.0004  s^6.2 - j 0.0069 s^4.1
//
// k seen in a secondary source, Zc from memory. Where s is negative the fill is taken for
// air, which is its limit at s = 0.
func komatsu(f Fill, _ Air, hz float64) fluid {
	s := max(2-math.Log10(hz/float64(f.Resistivity)), 0)
	high, low := math.Pow(s, 6.2), math.Pow(s, 4.1)
	return fromImpedance(complex(1+0.00027*high, -0.0047*low), complex(1+0.0004*high, -0.0069*low))
}

// jca is the model of Johnson, Champoux and Allard with porosity φ, tortuosity T and
// characteristic lengths Λ, Λ':
//
//	ρ = ρ0 T/φ [1 + σφ/(jωρ0T) sqrt(1 + j4T²ηρ0ω/(σΛφ)²)]
//	K = (1.4 p0/φ)/[1.4 - 0.4/(1 + 8η/(jΛ'²Pr ωρ0) sqrt(1 + jρ0ωPr Λ'²/(16η)))]
//
// Source: Johnson, Koplik and Dashen 1987; Champoux and Allard 1991, read second hand.
func jca(f Fill, air Air, hz float64) fluid {
	sigma, phi, t := float64(f.Resistivity), float64(f.Pores.Porosity), f.Pores.Tortuosity
	inertia := 2 * math.Pi * hz * air.Density()
	eta := air.Viscosity()
	viscous, thermal := f.Pores.ViscousLength.Metres(), f.Pores.ThermalLength.Metres()

	drag := cmplx.Sqrt(complex(1, 4*t*t*eta*inertia/math.Pow(sigma*viscous*phi, 2)))
	density := complex(t/phi, 0) * (1 + complex(0, -sigma*phi/(inertia*t))*drag)

	heat := thermal * thermal * prandtl * inertia
	exchange := 1 + complex(0, -8*eta/heat)*cmplx.Sqrt(complex(1, heat/(16*eta)))
	compressibility := complex(phi, 0) * (heatRatio - (heatRatio-1)/exchange)
	return fluid{density: density, index2: density * compressibility}
}

package hanging

import (
	"math"
)

// Resistances of the air at the two faces of a wall, m²K/W. Source: EN ISO 6946, horizontal flow
// of heat; from memory (hanging.md section 4).
const (
	insideFilm  = 0.13
	outsideFilm = 0.04
)

// The constants of the Magnus formula, and the humidity of a surface from which mould grows.
// Source: 17.625 and 243.04 °C as in hanging.md section 6 (Alduchov and Eskridge 1996, from memory);
// 0.80 is the criterion of EN ISO 13788, from memory (hanging.md section 4).
const (
	magnusSlope   = 17.625
	magnusShift   = 243.04
	mouldHumidity = 0.80
)

// SurfaceTemperature returns the temperature in °C of a wall's inner face behind
// something of the resistance cover (m²K/W, 0 for a bare wall), in a steady state.
//
//	t = ti − (ti − te) (Rsi + Rp) / (Rsi + Rp + Rw + Rse)
//
// Source: hanging.md section 4, resistances in series.
func SurfaceTemperature(inside, outside, wall, cover float64) float64 {
	return inside - (inside-outside)*(insideFilm+cover)/(insideFilm+cover+wall+outsideFilm)
}

// vapour is the saturation pressure of water at t °C, as a multiple of that at 0 °C.
func vapour(t float64) float64 { return math.Exp(magnusSlope * t / (magnusShift + t)) }

// DewPoint returns the temperature in °C at which air of t °C and the relative humidity
// (a fraction above 0) is saturated. It holds for about −40 °C to 50 °C.
//
//	γ = ln φ + a t / (b + t),  td = b γ / (a − γ)      a = 17.625, b = 243.04 °C
//
// Source: Magnus formula, constants as in hanging.md section 6.
func DewPoint(t, humidity float64) float64 {
	g := math.Log(humidity) + magnusSlope*t/(magnusShift+t)
	return magnusShift * g / (magnusSlope - g)
}

// SurfaceHumidity returns the relative humidity that air of t °C and the relative
// humidity has on a surface of another temperature; above 1 it condenses.
//
//	φs = φ p(t) / p(ts)
//
// Source: Magnus formula, as DewPoint.
func SurfaceHumidity(t, humidity, surface float64) float64 {
	return humidity * vapour(t) / vapour(surface)
}

// Climate is an outside wall in winter. Temperatures are in °C, resistances in m²K/W.
type Climate struct {
	Wall            float64 // thermal resistance of the wall itself
	Panel           float64 // of the panel: thickness / conductivity
	Inside, Outside float64
	Humidity        float64 // of the room, a fraction
}

// DampOutcome says what the air that reaches the wall behind a panel may do there.
type DampOutcome string

// The outcomes. Neither is said of the figures, not of the wall.
const (
	CondensationLikely DampOutcome = "condensation_likely" // at or below the dew point
	MouldRange         DampOutcome = "mould_range"         // 80 per cent or more on the surface
	BelowBoth          DampOutcome = "below_both"
)

// Damp is the answer about an outside wall.
type Damp struct {
	Figures []Figure // wall_behind, wall_bare, dew_point, humidity_behind, humidity_bare
	Outcome DampOutcome
}

func (c Climate) answer() Damp {
	behind := SurfaceTemperature(c.Inside, c.Outside, c.Wall, c.Panel)
	bare := SurfaceTemperature(c.Inside, c.Outside, c.Wall, 0)
	dew := DewPoint(c.Inside, c.Humidity)
	at := func(t float64) float64 { return SurfaceHumidity(c.Inside, c.Humidity, t) }
	outcome := BelowBoth
	switch {
	case behind <= dew:
		outcome = CondensationLikely
	case at(behind) >= mouldHumidity:
		outcome = MouldRange
	}
	const face = "inside − (inside − outside) × (inside_film + panel) / (inside_film + panel + wall + outside_film)"
	const faceSource = "resistances in series; films from EN ISO 6946, from memory"
	surface := func(name string, panel, t float64) Figure {
		return Figure{name, face, []Input{{"inside", c.Inside, "°C"}, {"outside", c.Outside, "°C"}, {"panel", panel, "m2K/W"}, {"wall", c.Wall, "m2K/W"},
			{"inside_film", insideFilm, "m2K/W"}, {"outside_film", outsideFilm, "m2K/W"}}, t, "°C", faceSource}
	}
	const wet = "100 × humidity × p(inside) / p(surface), p(t) = exp(17.625 × t / (243.04 + t))"
	const magnus = "Magnus formula with the constants of Alduchov and Eskridge (1996), from memory"
	humid := func(name string, t float64) Figure {
		return Figure{name, wet, []Input{{"humidity", c.Humidity, ""}, {"inside", c.Inside, "°C"}, {"surface", t, "°C"}}, 100 * at(t), "%", magnus}
	}
	return Damp{Outcome: outcome, Figures: []Figure{
		surface("wall_behind", c.Panel, behind), surface("wall_bare", 0, bare),
		{"dew_point", "243.04 × g / (17.625 − g), g = ln(humidity) + 17.625 × inside / (243.04 + inside)", []Input{{"humidity", c.Humidity, ""}, {"inside", c.Inside, "°C"}}, dew, "°C", magnus},
		humid("humidity_behind", behind), humid("humidity_bare", bare)}}
}

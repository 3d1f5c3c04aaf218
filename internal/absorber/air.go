package absorber

import "math"

// Air is the state of the air. Its range is -50 °C to 60 °C and 50 kPa to 120 kPa
// (convention: what a room can have).
type Air struct {
	Temperature float64 // °C
	Pressure    float64 // Pa
}

// StandardAir returns air of 20 °C and 101 325 Pa.
func StandardAir() Air { return Air{Temperature: 20, Pressure: 101325} }

// Constants of dry air. Gas constant and Sutherland's formula: ISO 2533:1975, from
// memory. Ratio of specific heats 1.4 and Prandtl number 0.71: common practice.
const (
	gasConstant = 287.05287 // J/(kg K)
	zeroCelsius = 273.15    // K
	heatRatio   = 1.4
	prandtl     = 0.71
	sutherlandA = 1.458e-6 // kg/(m s K^½)
	sutherlandB = 110.4    // K
)

func (a Air) kelvin() float64 { return a.Temperature + zeroCelsius }

// Density returns the density ρ0 in kg/m³, p/(R T).
func (a Air) Density() float64 { return a.Pressure / (gasConstant * a.kelvin()) }

// SoundSpeed returns the speed of sound c0 in m/s, sqrt(1.4 R T).
func (a Air) SoundSpeed() float64 { return math.Sqrt(heatRatio * gasConstant * a.kelvin()) }

// Impedance returns the characteristic impedance ρ0c0 in Pa·s/m.
func (a Air) Impedance() float64 { return a.Density() * a.SoundSpeed() }

// Viscosity returns the dynamic viscosity in Pa·s by Sutherland's formula
// 1.458e-6 T^1.5/(T + 110.4) (ISO 2533:1975, from memory).
func (a Air) Viscosity() float64 {
	return sutherlandA * math.Pow(a.kelvin(), 1.5) / (a.kelvin() + sutherlandB)
}

func (a Air) check() error {
	return first(
		within("temperature", a.Temperature, -50, 60),
		within("pressure", a.Pressure, 50e3, 120e3),
	)
}

package reverb

import "math"

// Air is the state of the air.
type Air struct {
	Temperature float64 // °C
	Humidity    float64 // relative, %
	Pressure    float64 // kPa
}

// StandardAir is 20 °C, 50 % and 101.325 kPa.
func StandardAir() Air { return Air{20, 50, 101.325} }

// Reference values of ISO 9613-1:1993: 20 °C, the triple point of water, 101.325 kPa.
const (
	kelvin0   = 273.15
	reference = 293.15
	triple    = 273.16
	pressure0 = 101.325
)

// SpeedOfSound returns the speed of sound in m/s: 343.2 √(T/T0).
// Source: ISO 9613-1:1993 annex A, from memory; rooms.md section 1 has 343.2 m/s at 20 °C.
func (a Air) SpeedOfSound() float64 {
	return 343.2 * math.Sqrt((a.Temperature+kelvin0)/reference)
}

// Decibels returns the attenuation of a pure tone in dB/m.
// Source: ISO 9613-1:1993 clause 6, as rooms.md section 2 gives it.
func (a Air) Decibels(hz float64) float64 {
	t, p := a.Temperature+kelvin0, a.Pressure/pressure0
	h := a.Humidity * math.Pow(10, -6.8346*math.Pow(triple/t, 1.261)+4.6151) / p
	oxygen := p * (24 + 4.04e4*h*(0.02+h)/(0.391+h))
	nitrogen := p * math.Pow(t/reference, -0.5) * (9 + 280*h*math.Exp(-4.170*(math.Pow(t/reference, -1.0/3)-1)))
	square := hz * hz
	return 8.686 * square * (1.84e-11/p*math.Sqrt(t/reference) + math.Pow(t/reference, -2.5)*
		(0.01275*math.Exp(-2239.1/t)/(oxygen+square/oxygen)+0.1068*math.Exp(-3352.0/t)/(nitrogen+square/nitrogen)))
}

// Attenuation returns the power attenuation m of a pure tone in 1/m: dB/m over 10 lg e.
func (a Air) Attenuation(hz float64) float64 { return a.Decibels(hz) / (10 * math.Log10(math.E)) }

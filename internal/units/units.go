// Package units holds the physical quantities that sabinbook reasons about,
// one named type each, so that a thickness can never be taken for a density.
//
// A quantity is kept in the unit in which people measure it and in which the
// wire and the database carry it (a length in millimetres, not metres): the
// number that was typed in is the number that comes back, digit for digit.
// Formulas work in SI and convert at their own border with the methods here.
package units

import "math"

// Length is a length in millimetres.
type Length float64

// Metres returns the length in metres.
func (l Length) Metres() float64 { return float64(l) / 1000 }

// Tenths returns the length in whole tenths of a millimetre, rounded to the
// nearest; cutting plans compute in tenths so that sums are exact.
func (l Length) Tenths() int64 { return int64(math.Round(float64(l) * 10)) }

// FromTenths returns the length of n tenths of a millimetre.
func FromTenths(n int64) Length { return Length(float64(n) / 10) }

// Diameter is the diameter of a fibre or a hole in micrometres.
type Diameter float64

// Metres returns the diameter in metres.
func (d Diameter) Metres() float64 { return float64(d) * 1e-6 }

// Area is an area in square metres. An absorption area is an Area too: one
// square metre of it is one metric sabin.
type Area float64

// Rectangle returns the area of a rectangle of sides a and b.
func Rectangle(a, b Length) Area { return Area(a.Metres() * b.Metres()) }

// Volume is a volume in cubic metres.
type Volume float64

// Mass is a mass in kilograms.
type Mass float64

// Force is a force in newtons.
type Force float64

// Density is a bulk density in kg/m³.
type Density float64

// SurfaceMass is a mass per area in kg/m².
type SurfaceMass float64

// AirflowResistivity is the resistance to steady flow of a unit thickness of
// porous material, Pa·s/m² (ISO 9053-1).
type AirflowResistivity float64

// AirflowResistance is the specific airflow resistance of a sheet as it is,
// Pa·s/m (ISO 9053-1). It is the openness of a fabric: the lower the more open.
type AirflowResistance float64

// Minutes is a working time in minutes.
type Minutes float64

// Fraction is a dimensionless share, 0 to 1.
type Fraction float64

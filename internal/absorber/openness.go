package absorber

import "sabinbook/internal/units"

// inertialShare is q in R_apparent = R (1 + q u), s/m: how the flow resistance of a cloth
// grows with the face velocity. Engineering estimate, range 0 to 1; sintered metal
// sheets have 0.17 to 1.0 (Ver and Beranek 2006, Table 8.7, seen in a transcription).
const inertialShare = 0.25

// FromPermeability returns the specific airflow resistance at low velocity of a fabric whose
// air permeability test found the face velocity u in m/s at the pressure p in Pa:
//
//	R_apparent = p/u,   R = R_apparent/(1 + q u)
//
// The apparent value is an upper bound: permeability is measured at 0.05 to 2 m/s, where
// inertia adds, sound moves the air at about 0.5 mm/s (ISO 9053-1, second hand). Both
// arguments must be above 0. Source: definition of flow resistance; units of ISO 9237
// and ASTM D737: 1 mm/s = 1 l/(m² s), 1 ft³/(min ft²) = 5.08 mm/s.
func FromPermeability(u, p float64) units.AirflowResistance {
	return units.AirflowResistance(p / u / (1 + inertialShare*u))
}

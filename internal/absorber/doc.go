// Package absorber predicts how much sound a panel absorbs that nobody measured:
// plane layers on a rigid wall,
//
//	room | fabric or perforated sheet | fill | air gap | wall
//
// in any order and number, at normal, oblique or diffuse incidence, per third octave.
// It also estimates the two properties on which the prediction rests where nobody
// measured them: the airflow resistivity of a fill from its density and fibre, and the
// flow resistance of a fabric from its air permeability, weave or holes; and it works out
// both from a piston test made at home.
//
// Conventions: time factor exp(+jωt), so that the wave number of a fill has a negative
// imaginary part; SI units inside formulas; impedances over ρ0c0, densities over ρ0
// and wave numbers over ω/c0; t is the cosine of the angle of incidence. The state of
// a surface is v = 1/(1 + z t) with z its impedance, which is (1 - R)/2 with R the
// reflection factor of the plane wave: 0 for a hard wall, bounded by 1 for anything
// passive, and the absorbed share of the energy is 1 - |R|² = 4 (Re v - |v|²).
//
// Simplifications:
//   - Layers are plane, homogeneous and endless; only Patch gives the front a size, and
//     edges absorb nothing.
//   - Fills are equivalent fluids with a rigid frame, or a limp one if its density is
//     given. Below about 15 kg/m³ frames move (common practice); stiffness is left out.
//   - Fabrics are limp sheets without thickness, stretch or contact with what is behind;
//     a fabric glued to a perforated sheet acts on its open area alone, which is left out.
//   - Humidity is left out (about 0.2 % of the speed of sound at 50 %, from memory).
//   - A band is represented by its exact mid-band frequency unless Sampling says otherwise.
//   - Laboratory curves of finite specimens run higher, by about 0.1 on average over
//     published curves; infinite results are the ones to rank by.
package absorber

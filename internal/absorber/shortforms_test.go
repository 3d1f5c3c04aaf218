package absorber

import "testing"

// addGap and the bare form of addSlab against addSlab in full. The bare form differs by the
// rounding of a few steps, 1e-15 where no value exceeds 1. For a gap addSlab takes κ from
// the square root of 1 - (1 - t²), which is off by up to 1.2e-16/t² of κ: so is A, and the
// phase 2κ k0d.
func TestShortFormsOfASlab(t *testing.T) {
	r := Diffuse().rule(16)
	n := len(r.t)
	work := &workspace{}
	wall, behind := make([]complex128, n), make([]complex128, n)
	full, short := make([]complex128, n), make([]complex128, n)
	fill, air := Fill{Resistivity: 10_000}.fluid(StandardAir(), 500), Gap{}.fluid(StandardAir(), 500)
	for _, k0d := range []float64{0, 0.01, 0.5, 3, 40} {
		addSlab(r, fill, k0d, false, work, wall, full)
		addSlab(r, fill, k0d, false, work, nil, short)
		for i := range full {
			about(t, "bare wall, Re", real(short[i]), real(full[i]), 1e-15)
			about(t, "bare wall, Im", imag(short[i]), imag(full[i]), 1e-15)
		}
		addSlab(r, fill, 0.3, false, work, nil, behind)
		addSlab(r, air, k0d, false, work, behind, full)
		addGap(r, k0d, work, behind, short)
		for i, cos := range r.t {
			tolerance := 1e-15 + (1+2*k0d*cos)*1.2e-16/(cos*cos)
			about(t, "gap, Re", real(short[i]), real(full[i]), tolerance)
			about(t, "gap, Im", imag(short[i]), imag(full[i]), tolerance)
		}
	}
}

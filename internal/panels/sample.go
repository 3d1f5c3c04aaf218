package panels

import (
	"sabinbook/internal/absorber"
	"sabinbook/internal/absorption"
)

// Sample returns what sound meets at the panel, from the room to the wall, or the reason why
// its absorption cannot be told. A back wrap counts where there is air behind it; against
// the wall it does nothing.
func (b Build) Sample() (absorption.Sample, absorption.Reason) {
	var s absorption.Sample
	if !s.Fabric(b.Fabric, false) {
		return s, absorption.NoOpenness
	}
	s.Fill(b.Fill, absorber.Fill{Thickness: b.FillDepth()})
	if b.AirGap > 0 {
		if b.BackWrapped() {
			s.Fabric(b.Fabric, false)
		}
		s.Gap(b.AirGap)
	}
	return s, ""
}

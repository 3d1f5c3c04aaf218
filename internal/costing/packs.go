package costing

import (
	"math"

	"sabinbook/internal/catalog"
	"sabinbook/internal/units"
)

// packs tells what a pack weighs and what room it takes, for delivery by weight.
type packs struct {
	fills   map[catalog.ID]catalog.Fill
	fabrics map[catalog.ID]catalog.Fabric
	parts   map[catalog.ID]catalog.Part
	panels  map[catalog.ID]catalog.ReadyMadePanel
}

func newPacks(s catalog.Snapshot) packs {
	m := packs{map[catalog.ID]catalog.Fill{}, map[catalog.ID]catalog.Fabric{}, map[catalog.ID]catalog.Part{}, map[catalog.ID]catalog.ReadyMadePanel{}}
	for _, f := range s.Fills {
		m.fills[f.ID] = f
	}
	for _, f := range s.Fabrics {
		m.fabrics[f.ID] = f
	}
	for _, p := range s.Parts {
		m.parts[p.ID] = p
	}
	for _, p := range s.ReadyMade {
		m.panels[p.ID] = p
	}
	return m
}

// grams returns the grams of a pack, rounded up: as stated with the offer, or from the item's
// density, mass per area, unit mass or mass.
func (m packs) grams(o catalog.Offer) (int64, bool) {
	if o.PackMass > 0 {
		return grams(float64(o.PackMass)), true
	}
	n := float64(o.PackCount)
	switch o.ItemKind {
	case catalog.FillItem:
		if d := m.fills[o.ItemID].Density; d != nil && o.SoldSize != nil {
			s := o.SoldSize
			return grams(n * s.Length.Metres() * s.Width.Metres() * s.Thickness.Metres() * float64(d.Value)), true
		}
	case catalog.FabricItem:
		f := m.fabrics[o.ItemID]
		if f.SurfaceMass != nil {
			return grams(o.PackLength.Metres() * f.RollWidth.Metres() * float64(f.SurfaceMass.Value)), true
		}
	case catalog.ReadyMadeItem:
		if mass := m.panels[o.ItemID].Mass; mass != nil {
			return grams(n * float64(mass.Value)), true
		}
	case catalog.PartItem:
		p := m.parts[o.ItemID]
		if p.UnitMass != nil {
			return grams(n * float64(p.UnitMass.Value)), true
		}
		if p.Density != nil && o.StockLength > 0 {
			return grams(n * o.StockLength.Metres() * p.SectionThickness.Metres() * p.SectionWidth.Metres() * float64(p.Density.Value)), true
		}
	}
	return 0, false
}

// volume returns the cm³ of a pack, rounded up: as stated with the offer, or from the sizes
// of batts, boards and ready-made panels.
func (m packs) volume(o catalog.Offer) (int64, bool) {
	n := float64(o.PackCount)
	switch {
	case o.PackVolume > 0:
		return cm3(o.PackVolume), true
	case o.ItemKind == catalog.FillItem && o.SoldSize != nil:
		return cm3(n * litres(o.SoldSize.Length, o.SoldSize.Width, o.SoldSize.Thickness)), true
	case o.ItemKind == catalog.PartItem && o.StockLength > 0:
		p := m.parts[o.ItemID]
		return cm3(n * litres(o.StockLength, p.SectionThickness, p.SectionWidth)), true
	case o.ItemKind == catalog.ReadyMadeItem:
		p := m.panels[o.ItemID]
		return cm3(n * litres(p.Width, p.Height, p.Depth)), true
	}
	return 0, false
}

func litres(a, b, c units.Length) float64 { return 1000 * a.Metres() * b.Metres() * c.Metres() }

func cm3(litres float64) int64 { return int64(math.Ceil(litres*1000 - 1e-6)) }

func grams(kg float64) int64 { return int64(math.Ceil(kg*1000 - 1e-6)) }

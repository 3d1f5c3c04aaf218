package ranking

import (
	"fmt"
	"slices"

	"sabinbook/internal/catalog"
	"sabinbook/internal/handling"
	"sabinbook/internal/panels"
	"sabinbook/internal/units"
)

// BurdenQuestion asks what handling one build takes, whatever it costs.
type BurdenQuestion struct {
	Panels       int
	Design       panels.Design
	Fill, Fabric string // ids or slugs
	Thickness    units.Length
	Layers       int
	AirGap       units.Length
	Handling     handling.Terms
}

// Burdened is the answer to a BurdenQuestion.
type Burdened struct {
	Build           panels.Build // its frame is of the narrowest stored timber that fits, whether it can be bought or not
	Burden          handling.Burden
	CatalogRevision int64
	Sources         []catalog.Source // of fill, fabric and frame, and of their figures that take part
}

// Validate names every fault of the question that can be seen without a catalog.
func (q BurdenQuestion) Validate() error {
	v := &catalog.Faults{}
	v.Within("/panel_count", float64(q.Panels), 1, MaxPanels, "panels", "ask for 1 to 500 panels, plan larger jobs in parts")
	q.Design.Check(v, "/panel")
	v.Within("/thickness_mm", float64(q.Thickness), 2, 600, "mm", "give the thickness of one layer, e.g. 50")
	v.Within("/layers_count", float64(q.Layers), 1, MaxLayers, "layers", "ask for 1 or 2")
	v.Within("/air_gap_mm", float64(q.AirGap), 0, 500, "mm", "give millimetres, e.g. 50; 0 for none")
	checkHandling(v, q.Handling)
	return join(v.Err(), q.Handling.Validate(max(1, q.Panels)))
}

// BurdenOf answers a BurdenQuestion. The error is a *catalog.InvalidError when the question is not
// valid, names a record that is not there, or a build that cannot be.
func (p *Prepared) BurdenOf(q BurdenQuestion) (Burdened, error) {
	if err := q.Validate(); err != nil {
		return Burdened{}, err
	}
	v := &catalog.Faults{}
	fills := pick(p.snapshot.Fills, []string{q.Fill}, func(f catalog.Fill) catalog.Meta { return f.Meta }, "/fill", "fill", v)
	fabrics := pick(p.snapshot.Fabrics, []string{q.Fabric}, func(f catalog.Fabric) catalog.Meta { return f.Meta }, "/fabric", "fabric", v)
	if err := v.Err(); err != nil {
		return Burdened{}, err
	}
	b, err := built(fills[0], q.Thickness, func() (panels.Build, bool) {
		return panels.Assemble(q.Design, fills[0], q.Thickness, q.Layers, q.AirGap, fabrics[0], p.snapshot.Parts)
	})
	if err != nil {
		return Burdened{}, err
	}
	if !hollow(b) {
		return Burdened{}, noRoomInside()
	}
	out := Burdened{Build: b, Burden: handling.For(b, q.Panels, q.Handling), CatalogRevision: p.snapshot.Revision}
	rests := sourcesOf(b)
	for _, s := range p.snapshot.Sources {
		if slices.Contains(rests, s.ID) {
			out.Sources = append(out.Sources, s)
		}
	}
	return out, nil
}

// sourcesOf lists the sources of what a panel is made of, and of the figures behind its mass and its
// handling; some may be empty or stand twice.
func sourcesOf(b panels.Build) []catalog.ID {
	return []catalog.ID{b.Fill.SourceID, b.Fabric.SourceID, b.Frame.SourceID, sourceOf(b.Fill.Density), sourceOf(b.Fabric.SurfaceMass), sourceOf(b.Frame.Density),
		sourceOf(b.Fill.Handling.Cutting), sourceOf(b.Fill.Handling.Borate)}
}

// sourceOf is the source of a figure, none of one that is not known.
func sourceOf[U ~float64](f *catalog.Figure[U]) catalog.ID {
	if f == nil {
		return ""
	}
	return f.SourceID
}

// built is a build of a fill in a thickness in which it is sold, or why there is none.
func built(fill catalog.Fill, thickness units.Length, assemble func() (panels.Build, bool)) (panels.Build, error) {
	if sold := soldThicknesses(fill); !slices.Contains(sold, thickness) {
		return panels.Build{}, invalid("/thickness_mm", "not_sold", fmt.Sprintf("%s is not sold %g mm thick", fill.Slug, float64(thickness)), fmt.Sprintf("use one of its thicknesses %v, or add a sold size to the fill", sold))
	}
	b, ok := assemble()
	if !ok {
		return panels.Build{}, invalid("/thickness_mm", string(NoFrame), "no frame timber is deep enough for the fill without being deeper than fill and air gap", "add a timber whose width is the depth of the fill or up to 5 mm more, or ask for a larger air gap")
	}
	return b, nil
}

func noRoomInside() error {
	return invalid("/panel", string(LargerThanPanel), "the frame timber leaves no room inside the panel", "ask for a larger panel or add a thinner timber")
}

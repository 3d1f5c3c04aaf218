package ranking

import (
	"fmt"
	"slices"

	"sabinbook/internal/catalog"
	"sabinbook/internal/handling"
	"sabinbook/internal/money"
	"sabinbook/internal/panels"
	"sabinbook/internal/units"
)

// Limits leave out what the asker cannot use. The zero value has none. What is not known does
// not keep a limit.
type Limits struct {
	Budget  *money.Amount  // for all panels, in the currency of the terms
	Mass    units.Mass     // of one panel; 0 for none
	Depth   units.Length   // from the wall to the face; 0 for none
	Minutes *units.Minutes // extra minutes for all panels
	// Avoid lists cautions that a fill must not call for. That a fact is not known has a caution
	// of its own: who avoids listed borates and unknown ones too lists both.
	Avoid []handling.Caution
	Fire  *FireDemand
}

// FireDemand asks for a declared fire class word for word; nothing is derived or converted.
type FireDemand struct {
	Scheme catalog.FireScheme
	Codes  []string // any of them
	Of     []string // fill, fabric
}

// Reasons for which limits leave candidates out.
const (
	OverBudget     Reason = "over_budget"
	TooHeavy       Reason = "over_mass"
	MassUnclear    Reason = "mass_unknown"
	TooDeep        Reason = "over_depth"
	TooLong        Reason = "over_minutes"
	MinutesUnclear Reason = "minutes_unknown"
	Hazard         Reason = "hazard_to_avoid"
	OtherFire      Reason = "fire_class_not_declared"
)

// fireSubjects are the parts of which a fire class may be demanded.
var fireSubjects = []string{"fill", "fabric"}

func (l Limits) validate(v *catalog.Faults, currency money.Currency) {
	if a := l.Budget; a != nil {
		switch {
		case a.Currency() != currency:
			v.Add("/limits/budget/currency", "disagrees", fmt.Sprintf("is %s, the question's currency is %s", a.Currency(), currency), "give it in the currency of the question; nothing is converted")
		case a.Sign() < 0:
			v.Add("/limits/budget/amount", "out_of_range", "must not be negative", "give what may be spent, e.g. 350.00")
		}
	}
	v.Within("/limits/panel_mass_kg", float64(l.Mass), 0, 1000, "kg", "give the most that one panel may weigh, or leave it out")
	v.Within("/limits/depth_from_wall_mm", float64(l.Depth), 0, 2000, "mm", "give how far the face may stand from the wall, or leave it out")
	if l.Minutes != nil {
		v.Within("/limits/extra_time_min", float64(*l.Minutes), 0, 1e6, "min", "give the most extra minutes for all panels, or leave it out")
	}
	all := handling.Cautions()
	for i, c := range l.Avoid {
		if !slices.Contains(all, c) {
			v.Word(fmt.Sprintf("/limits/avoid/%d", i), string(c), wordsOf(all))
		}
	}
	if f := l.Fire; f != nil {
		v.Word("/limits/fire/scheme", string(f.Scheme), wordsOf(catalog.FireSchemes()))
		if len(f.Codes) == 0 {
			v.Add("/limits/fire/codes", "required", "names no class", "list the declared classes that will do, word for word, e.g. A1 and A2-s1,d0")
		}
		if len(f.Of) == 0 {
			v.Add("/limits/fire/of", "required", "names no part", "list fill, fabric or both")
		}
		for i, of := range f.Of {
			v.Word(fmt.Sprintf("/limits/fire/of/%d", i), of, fireSubjects)
		}
	}
}

// ofStand returns why a build keeps the limits under no fabric, whatever the number of panels.
func (l Limits) ofStand(b panels.Build, burden handling.Burden) Reason {
	switch {
	case l.Depth > 0 && b.DepthFromWall() > l.Depth:
		return TooDeep
	case slices.ContainsFunc(burden.Cautions, func(c handling.Caution) bool { return slices.Contains(l.Avoid, c) }):
		return Hazard
	case !l.Fire.met("fill", b.Fill.Fire):
		return OtherFire
	}
	return ""
}

// ofTime returns why a burden is more than was asked for.
func (l Limits) ofTime(burden handling.Burden) Reason {
	switch {
	case l.Minutes != nil && !burden.Known:
		return MinutesUnclear
	case l.Minutes != nil && burden.Total > *l.Minutes:
		return TooLong
	}
	return ""
}

// ofBuild returns why a build of a stand that keeps the limits does not.
func (l Limits) ofBuild(b panels.Build) Reason {
	if !l.Fire.met("fabric", b.Fabric.Fire) {
		return OtherFire
	}
	if l.Mass > 0 {
		switch mass, _, known := b.Mass(); {
		case !known:
			return MassUnclear
		case mass > l.Mass:
			return TooHeavy
		}
	}
	return ""
}

// met reports whether the declarations of a part meet the demand.
func (f *FireDemand) met(part string, list []catalog.FireDeclaration) bool {
	return f == nil || !slices.Contains(f.Of, part) || slices.ContainsFunc(list, func(d catalog.FireDeclaration) bool {
		return d.Scheme == f.Scheme && slices.ContainsFunc(f.Codes, func(code string) bool {
			return catalog.NormalFireCode(f.Scheme, code) == catalog.NormalFireCode(d.Scheme, d.Code)
		})
	})
}

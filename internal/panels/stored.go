package panels

import (
	"fmt"
	"slices"

	"sabinbook/internal/catalog"
)

// Roles are the roles of parts that may be asked for on each panel; frame, fabric, stand-offs
// and protective equipment follow from the build.
var Roles = []catalog.Role{catalog.Hanger, catalog.Screw, catalog.Staple, catalog.Adhesive}

// Check names every fault of the design; at is its place on the wire.
func (d Design) Check(v *catalog.Faults, at string) {
	v.Within(at+"/width_mm", float64(d.Width), 100, 3000, "mm", "give millimetres, e.g. 600")
	v.Within(at+"/height_mm", float64(d.Height), 100, 3000, "mm", "give millimetres, e.g. 1200")
	v.Within(at+"/wrap_turn_mm", float64(d.Turn), 0, 300, "mm", "give the fabric turned in behind the frame, e.g. 50")
	v.Word(at+"/back", string(d.Back), words(Backs))
	v.Within(at+"/back_margin_mm", float64(d.BackMargin), -40, 300, "mm", "give how far the back piece goes beyond the panel on each side, e.g. 20; negative when it ends inside")
	v.Within(at+"/fill_oversize_mm", float64(d.Oversize), 0, 50, "mm", "give what pieces of fill are cut larger for a press fit, e.g. 5")
	v.Word(at+"/joint", string(d.Joint), words(Joints))
	v.Within(at+"/braces_count", float64(d.Braces), 0, 20, "", "give the braces across one panel, 0 for none")
	v.Within(at+"/stand_offs_count", float64(d.StandOffs), 0, 100, "", "give the number of stand-offs of one panel, e.g. 4")
	for i, p := range d.Parts {
		at := fmt.Sprintf("%s/parts/%d", at, i)
		if slices.ContainsFunc(d.Parts[:i], func(q PartCount) bool { return q.Role == p.Role }) {
			v.Add(at+"/role", "duplicate", fmt.Sprintf("the role %s is listed twice", p.Role), "list it once with the sum of the counts")
		}
		v.Within(at+"/count", float64(p.Count), 1, 1000, "", "give the number on one panel, or leave the part out")
		v.Word(at+"/role", string(p.Role), words(Roles))
	}
}

func words[T ~string](list []T) []string {
	out := make([]string, len(list))
	for i, w := range list {
		out[i] = string(w)
	}
	return out
}

// Of returns the design that a record of the catalog keeps.
func Of(r catalog.Design) Design {
	d := Design{Width: r.Width, Height: r.Height, Turn: r.Turn, Back: Back(r.Back), BackMargin: r.BackMargin, Oversize: r.Oversize, Joint: Joint(r.Joint), Braces: r.Braces, StandOffs: r.StandOffs}
	for _, p := range r.Parts {
		d.Parts = append(d.Parts, PartCount(p))
	}
	return d
}

// Record returns what a record of the catalog keeps of the design.
func (d Design) Record(m catalog.Meta, note string) catalog.Design {
	r := catalog.Design{Meta: m, Width: d.Width, Height: d.Height, Turn: d.Turn, Back: string(d.Back), BackMargin: d.BackMargin, Oversize: d.Oversize, Joint: string(d.Joint), Braces: d.Braces, StandOffs: d.StandOffs, Note: note}
	for _, p := range d.Parts {
		r.Parts = append(r.Parts, catalog.DesignPart(p))
	}
	return r
}

// Validate names every fault of a record.
func Validate(r catalog.Design) error {
	v := &catalog.Faults{}
	v.Stored(r.Meta, r.Note)
	Of(r).Check(v, "")
	return v.Err()
}

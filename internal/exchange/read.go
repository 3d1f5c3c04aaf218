package exchange

import (
	"cmp"
	"fmt"
	"maps"
	"slices"

	"sabinbook/internal/catalog"
)

// Read takes the catalog out of the files of a package. The error is a *FaultyError that
// names everything that is wrong, by file and line: with the files, with cells, with references, and with
// the rules of package catalog. today is the last day on which a price can have been seen.
func Read(files []File, today catalog.Date) (catalog.Snapshot, error) {
	r := &reading{today: today, form: secondNumber(formVersion), rows: map[string]map[catalog.ID]int{}, broken: map[string]bool{}, doubtful: map[string]map[catalog.ID]bool{}, elements: map[place]cellAt{}}
	all := tables()
	known := []string{descriptorName}
	if f, ok := fileNamed(files, descriptorName); ok {
		r.readDescriptor(f.Data)
	} else {
		r.fault(descriptorName, 0, "", "missing_file", "is not in the package", "take it from an export")
	}
	for _, t := range all {
		name := t.describe().file()
		known = append(known, name)
		f, ok := fileNamed(files, name)
		if !ok && t.describe().since > r.form {
			continue
		}
		if !ok {
			r.broken[t.describe().name] = true
			r.fault(name, 0, "", "missing_file", "is not in the package", "add it; a table without rows has its header alone")
			continue
		}
		lines, bad := splitLines(string(f.Data))
		if bad != nil {
			bad.File = name
			r.faults = append(r.faults, *bad)
			r.broken[t.describe().name] = true
			continue
		}
		t.read(r, lines)
	}
	for i, f := range files {
		if !slices.Contains(known, f.Name) {
			r.fault(f.Name, 0, "", "unknown_file", "belongs to no table of this form", "take it out of the package")
		} else if slices.IndexFunc(files, func(g File) bool { return g.Name == f.Name }) != i {
			r.fault(f.Name, 0, "", "duplicate", "stands twice in the package", "keep one")
		}
	}
	r.follow()
	for _, t := range all {
		t.check(r)
	}
	r.fits()
	slices.SortStableFunc(r.faults, func(a, b Fault) int { return cmp.Or(cmp.Compare(a.File, b.File), cmp.Compare(a.Row, b.Row)) })
	if len(r.faults) > 0 {
		return catalog.Snapshot{}, &FaultyError{r.faults}
	}
	r.snapshot.Sort()
	return r.snapshot, nil
}

func fileNamed(files []File, name string) (File, bool) {
	i := slices.IndexFunc(files, func(f File) bool { return f.Name == name })
	if i < 0 {
		return File{}, false
	}
	return files[i], true
}

// fits checks the rules that hold between records: an offer sells what its item has, and a
// price corrects one of the same offer, not itself in the end.
func (r *reading) fits() {
	s := &r.snapshot
	fills, parts := map[catalog.ID]catalog.Fill{}, map[catalog.ID]catalog.Part{}
	for _, f := range s.Fills {
		fills[f.ID] = f
	}
	for _, p := range s.Parts {
		parts[p.ID] = p
	}
	for _, o := range s.Offers {
		row := r.rows["offers"][o.ID]
		if r.lacks("fill_sold_sizes", "part_stock_lengths") {
			break
		}
		if misfit := misfit(o, fills, parts); misfit != nil && !r.doubtful["offers"][o.ID] {
			column := "stock_length_mm"
			if o.ItemKind == catalog.FillItem {
				column = "sold_length_mm"
			}
			r.fault("offers.csv", row, column, misfit.Code, misfit.Detail, misfit.Fix)
		}
	}
	prices := map[catalog.ID]catalog.Price{}
	for _, p := range s.Prices {
		prices[p.ID] = p
	}
	for _, p := range s.Prices {
		if wrong, there := prices[p.Corrects]; there && wrong.OfferID != p.OfferID {
			r.fault("prices.csv", r.rows["prices"][p.ID], "corrects_id", "other_offer", "is a price of another offer", "give the id of a price of the same offer")
		}
	}
	for _, p := range circular(prices) {
		r.fault("prices.csv", r.rows["prices"][p], "corrects_id", "circular", "leads back to the price itself", "name the price that was wrong")
	}
}

// circular lists one price of each circle of corrections.
func circular(prices map[catalog.ID]catalog.Price) []catalog.ID {
	var circles []catalog.ID
	walk := map[catalog.ID]catalog.ID{} // price to the price from which it was first reached
	for _, start := range slices.Sorted(maps.Keys(prices)) {
		for at := start; ; at = prices[at].Corrects {
			if _, there := prices[at]; !there {
				break
			}
			if from, seen := walk[at]; seen {
				if from == start {
					circles = append(circles, at)
				}
				break
			}
			walk[at] = start
		}
	}
	return circles
}

// misfit is why an offer does not fit what it sells, when that is among the given records.
func misfit(o catalog.Offer, fills map[catalog.ID]catalog.Fill, parts map[catalog.ID]catalog.Part) *catalog.Fault {
	var err error
	if f, ok := fills[o.ItemID]; ok && o.ItemKind == catalog.FillItem {
		err = o.FitsFill(f)
	}
	if p, ok := parts[o.ItemID]; ok && o.ItemKind == catalog.PartItem {
		err = o.FitsPart(p)
	}
	if bad, ok := err.(*catalog.InvalidError); ok {
		return &bad.Faults[0]
	}
	return nil
}

// unique names the records of a noun whose slug or name another one of the package has.
func (n *noun[R]) unique(r *reading) {
	if n.meta == nil {
		return
	}
	slugs, keys := map[catalog.Slug]int{}, map[string]int{}
	file := n.describe().file()
	for _, x := range *n.list(&r.snapshot) {
		m := *n.meta(&x)
		row := r.rows[n.name][m.ID]
		if first, twice := slugs[m.Slug]; twice {
			r.fault(file, row, "slug", "duplicate", fmt.Sprintf("is the slug of line %d too", first), "choose another slug")
		}
		slugs[m.Slug] = row
		key := catalog.NameKey(m.Name)
		if first, twice := keys[key]; twice && !n.freeName {
			r.fault(file, row, "name", "duplicate", fmt.Sprintf("is, but for case and spaces, the name of line %d", first), "choose another name")
		}
		keys[key] = row
	}
}

package ranking

import (
	"fmt"
	"slices"

	"sabinbook/internal/catalog"
	"sabinbook/internal/units"
)

// MaxOptions bounds Brief.Options. Convention.
const MaxOptions = 50

// candidateKey names a candidate by what it is made of.
func candidateKey(fill catalog.Slug, thickness units.Length, layers int, gap units.Length, fabric catalog.Slug) string {
	return fmt.Sprintf("%s.%gx%d.gap-%g.%s", fill, float64(thickness), layers, float64(gap), fabric)
}

// named keeps of fills and fabrics what the keys of Brief.Options name, and names every key
// that no candidate has. Without keys it keeps all.
func (b Brief) named(v *catalog.Faults, fills []catalog.Fill, fabrics []catalog.Fabric) ([]catalog.Fill, []catalog.Fabric) {
	if len(b.Options) == 0 {
		return fills, fabrics
	}
	usedFill, usedFabric := map[catalog.ID]bool{}, map[catalog.ID]bool{}
	for i, key := range b.Options {
		part := keyParts.FindStringSubmatch(key)
		found := false
		for _, fill := range fills {
			if part == nil || string(fill.Slug) != part[1] {
				continue
			}
			for _, fabric := range fabrics {
				if string(fabric.Slug) == part[5] && slices.Contains(b.keysOf(fill, fabric), key) {
					found, usedFill[fill.ID], usedFabric[fabric.ID] = true, true, true
				}
			}
		}
		if !found {
			v.Add(fmt.Sprintf("/options/%d", i), "unknown_reference", fmt.Sprintf("this question has no candidate %q", key),
				"copy the key of an option from the answer to the same question without options; a key holds slugs, thickness, layers and gap, and what they name may have changed")
		}
	}
	fills = slices.DeleteFunc(slices.Clone(fills), func(f catalog.Fill) bool { return !usedFill[f.ID] })
	fabrics = slices.DeleteFunc(slices.Clone(fabrics), func(f catalog.Fabric) bool { return !usedFabric[f.ID] })
	return fills, fabrics
}

// keysOf lists the keys of all candidates of a fill under a fabric.
func (b Brief) keysOf(fill catalog.Fill, fabric catalog.Fabric) []string {
	var list []string
	for _, thickness := range soldThicknesses(fill) {
		for layers := 1; layers <= b.LayersMax; layers++ {
			for _, gap := range b.AirGaps {
				list = append(list, candidateKey(fill.Slug, thickness, layers, gap, fabric.Slug))
			}
		}
	}
	return list
}

// under lists the fabrics, as their indices in c.fabrics, under which a build is looked at.
func (c *candidates) under(b Brief, fill catalog.Fill, thickness units.Length, layers int, gap units.Length) []int32 {
	list := make([]int32, 0, len(c.fabrics))
	for i, fabric := range c.fabrics {
		if len(b.Options) == 0 || slices.Contains(b.Options, candidateKey(fill.Slug, thickness, layers, gap, fabric.Slug)) {
			list = append(list, int32(i))
		}
	}
	return list
}

// checkKeys names every fault of keys of options.
func checkKeys(v *catalog.Faults, at string, keys []string, most int) {
	if len(keys) > most {
		v.Add(at, "out_of_range", fmt.Sprintf("must hold at most %d keys, got %d", most, len(keys)), "ask about fewer options at once")
	}
	for i, key := range keys {
		at := fmt.Sprintf("%s/%d", at, i)
		if keyParts.FindString(key) == "" {
			v.Add(at, "malformed", fmt.Sprintf("%q is not the key of an option", key), "copy the key of an option from an answer, like rock-wool-40.50x1.gap-0.nonwoven-60")
		}
		if slices.Contains(keys[:i], key) {
			v.Add(at, "duplicate", "is listed twice", "keep one")
		}
	}
}

package costing

import (
	"math"

	"sabinbook/internal/catalog"
	"sabinbook/internal/needs"
)

// Reach says up to how many panels what is bought and on hand for a need suffices.
type Reach struct {
	Need   string
	Panels int
	// More is set when it suffices for as many as were looked at.
	More bool
}

// Reaches tells for every need of which something is bought where its next pack, board or cut
// begins. Lists are the needs of one panel more each, beginning with those of c.Count + 1.
// A need is looked at in the size that is bought.
func (m *Market) Reaches(c Cost, lists []needs.List) []Reach {
	var out []Reach
	at := map[string]int{}
	bought := map[portionKey]float64{}
	for _, l := range c.Lines {
		if l.Owned {
			continue
		}
		bought[portionKey{l.Need, l.ItemID, l.Size}] += l.PackSize * float64(l.Packs)
		if _, seen := at[l.Need]; !seen {
			at[l.Need] = len(out)
			out = append(out, Reach{Need: l.Need, Panels: c.Count, More: true})
		}
	}
	for _, list := range lists {
		for _, w := range m.wanted(list) {
			i, ok := at[w.code]
			if !ok || !out[i].More {
				continue
			}
			if out[i].More = w.within(bought); out[i].More {
				out[i].Panels = list.Count
			}
		}
	}
	return out
}

// portionKey names what is bought of one size for a need.
type portionKey struct {
	need string
	item catalog.ID
	size string
}

// within reports whether what is bought meets the want in some way.
func (w want) within(bought map[portionKey]float64) bool {
	for i, h := range w.supply.how {
		enough := true
		for k, p := range h.portions {
			needed := float64(w.supply.ways[i].Items[k].Quantity) / h.scale
			enough = enough && needed <= math.Nextafter(bought[portionKey{w.code, h.item.ID, p.size}], math.Inf(1))
		}
		if enough {
			return true
		}
	}
	return false
}

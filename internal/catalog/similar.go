package catalog

import (
	"math"
	"slices"
	"strings"
)

// similarDensity is the share by which the densities of two records of one fill may
// differ. Convention: makers declare densities within about a tenth.
const similarDensity = 0.1

// SimilarFills reports whether two fills look like two records of one material: the same
// family, no densities that contradict each other, and at least half of the words of the
// shorter name in both names. It is a hint for people; nothing is merged by it. Convention.
func SimilarFills(a, b Fill) bool {
	if a.Family != b.Family {
		return false
	}
	if a.Density != nil && b.Density != nil {
		x, y := float64(a.Density.Value), float64(b.Density.Value)
		if math.Abs(x-y) > similarDensity*max(x, y) {
			return false
		}
	}
	words, others := nameWords(a.Name), nameWords(b.Name)
	if len(words) > len(others) {
		words, others = others, words
	}
	common := 0
	for _, w := range words {
		if slices.Contains(others, w) {
			common++
		}
	}
	return common > 0 && 2*common >= len(words)
}

// nameWords lists the different words of a name, folded, without punctuation at their ends.
func nameWords(name string) []string {
	var list []string
	for _, w := range strings.Fields(NameKey(name)) {
		if w = strings.Trim(w, `.,;:()"'-/`); w != "" && !slices.Contains(list, w) {
			list = append(list, w)
		}
	}
	return list
}

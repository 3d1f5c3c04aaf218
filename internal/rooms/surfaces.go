package rooms

import (
	"bytes"
	_ "embed" // embeds the table
	"encoding/csv"
	"fmt"
	"slices"
	"strconv"
	"strings"
	"sync"

	"sabinbook/internal/bands"
)

// Material is a published surface, furnishing or person with what it absorbs.
type Material struct {
	Name        string // for questions, e.g. plaster-painted
	Category    string
	Description string
	// PerThing says that Alpha is the absorption area of one person or seat in square metres,
	// else it is a coefficient.
	PerThing bool
	Alpha    [bands.OctaveCount]float64 // 125 Hz to 4000 Hz
	Mounting string
	Credit   string // who measured it, as the source says
	Source   string
	Licence  string
	Remarks  string
}

// table is made from the reference's surfaces.csv; each row has its source beside it.
//
//go:embed surfaces.csv
var table []byte

// Materials lists all published surfaces, in the order of their categories.
var Materials = sync.OnceValue(func() []Material {
	rows, err := csv.NewReader(bytes.NewReader(table)).ReadAll()
	if err != nil {
		panic("rooms: the embedded table: " + err.Error())
	}
	var list []Material
	for i, r := range rows[1:] {
		m := Material{Name: r[0], Category: r[1], Description: r[2], PerThing: r[3] != "coefficient", Mounting: r[10], Credit: r[11], Source: r[12], Licence: r[13], Remarks: r[14]}
		for k := range m.Alpha {
			if m.Alpha[k], err = strconv.ParseFloat(r[4+k], 64); err != nil {
				panic(fmt.Sprintf("rooms: the embedded table, row %d: %v", i+1, err))
			}
		}
		list = append(list, m)
	}
	return list
})

// Find returns the material with a name.
func Find(name string) (Material, bool) {
	list := Materials()
	i := slices.IndexFunc(list, func(m Material) bool { return m.Name == name })
	if i < 0 {
		return Material{}, false
	}
	return list[i], true
}

// near lists up to four names that share most words with one that is not known.
func near(name string) []string {
	words := strings.FieldsFunc(strings.ToLower(name), func(r rune) bool { return !(r >= 'a' && r <= 'z' || r >= '0' && r <= '9') })
	score := func(m Material) int {
		n := 0
		for _, w := range words {
			if strings.Contains(m.Name, w) {
				n += len(w)
			}
		}
		return n
	}
	list := slices.Clone(Materials())
	slices.SortStableFunc(list, func(a, b Material) int { return score(b) - score(a) })
	var names []string
	for _, m := range list[:4] {
		if score(m) > 0 {
			names = append(names, m.Name)
		}
	}
	return names
}

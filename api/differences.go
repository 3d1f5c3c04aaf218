package api

import (
	"bytes"
	"encoding/json"
	"maps"
	"math/big"
	"slices"
	"strconv"
	"strings"
)

// differencesBetween lists where two values differ on the wire, in the order of their members, with
// pointers below at.
func differencesBetween(at string, stated, computed any) ([]ValueDifference, error) {
	a, err := onWire(stated)
	if err != nil {
		return nil, err
	}
	b, err := onWire(computed)
	if err != nil {
		return nil, err
	}
	return differences(nil, at, a, b), nil
}

// onWire is a value as a reader of its JSON sees it.
func onWire(value any) (any, error) {
	text, err := json.Marshal(value)
	if err != nil {
		return nil, err
	}
	decoder := json.NewDecoder(bytes.NewReader(text))
	decoder.UseNumber()
	var out any
	err = decoder.Decode(&out)
	return out, err
}

// absent stands for a member or an element that is not there.
type absent struct{}

func differences(list []ValueDifference, at string, a, b any) []ValueDifference {
	switch x := a.(type) {
	case map[string]any:
		y, ok := b.(map[string]any)
		if !ok {
			return append(list, differenceOf(at, a, b))
		}
		names := slices.Collect(maps.Keys(x))
		for name := range y {
			if _, both := x[name]; !both {
				names = append(names, name)
			}
		}
		slices.Sort(names)
		for _, name := range names {
			list = differences(list, at+pointerOf([]string{name}), member(x, name), member(y, name))
		}
		return list
	case []any:
		y, ok := b.([]any)
		if !ok {
			return append(list, differenceOf(at, a, b))
		}
		for i := range max(len(x), len(y)) {
			list = differences(list, at+"/"+strconv.Itoa(i), element(x, i), element(y, i))
		}
		return list
	}
	if !sameScalar(a, b) {
		return append(list, differenceOf(at, a, b))
	}
	return list
}

func member(m map[string]any, name string) any {
	if v, ok := m[name]; ok {
		return v
	}
	return absent{}
}

func element(list []any, i int) any {
	if i < len(list) {
		return list[i]
	}
	return absent{}
}

func sameScalar(a, b any) bool {
	x, first := a.(json.Number)
	y, second := b.(json.Number)
	if first && second {
		f, _ := x.Float64()
		g, _ := y.Float64()
		return f == g
	}
	switch b.(type) {
	case map[string]any, []any:
		return false
	}
	return a == b
}

// longestTold is how many characters of a value a difference tells.
const longestTold = 300

func differenceOf(at string, a, b any) ValueDifference {
	d := ValueDifference{Pointer: at, Stated: told(a), Computed: told(b)}
	if x, ok := exactly(a); ok {
		if y, ok := exactly(b); ok {
			change, _ := new(big.Rat).Sub(y, x).Float64()
			d.Change = &change
		}
	}
	return d
}

func told(v any) *string {
	if v == (any)(absent{}) {
		return nil
	}
	text, err := canonical(v)
	if err != nil { // a value that was read as JSON can be written
		return nil
	}
	runes := []rune(string(text))
	if len(runes) > longestTold {
		runes = append(runes[:longestTold-1], '…')
	}
	return place(string(runes))
}

// exactly is a number, or an amount of money, without rounding.
func exactly(v any) (*big.Rat, bool) {
	switch x := v.(type) {
	case json.Number:
		return new(big.Rat).SetString(x.String())
	case string:
		if strings.Trim(x, "0123456789.-") == "" && strings.Count(x, ".") <= 1 && len(x) < 30 {
			return new(big.Rat).SetString(x)
		}
	}
	return nil, false
}

package cutting

import (
	"cmp"
	"slices"
)

// joined is how strips of one class are made from pieces.
type joined struct {
	strips [][]int64 // lengths of the pieces of each strip, in the order of joining
	cuts   []stripCut
}

// stripCut is a piece of strip as a pattern gives it, and what is cut from it.
type stripCut struct {
	length int64
	into   []int64
}

// join makes count strips of a length from pieces, none shorter than least: a strip is finished
// from the shortest piece that is long enough, else goes on with the longest that leaves nothing
// or at least the least, else with one that is shortened so that the least is left. What is cut
// off and not shorter than least is used again. It fails when the pieces do not suffice.
// Source: costing_problem.md section 7, sliver rule.
func join(pieces []int64, count int, length, least int64) (joined, bool) {
	// Pieces and rests of one length stand together: there are few lengths.
	type group struct {
		length int64
		cuts   []int // indices of the pieces that they are, or are rests of
	}
	var out joined
	var pool []group // ascending
	// from is the place of the first group of a length or more.
	from := func(length int64) int {
		at, _ := slices.BinarySearchFunc(pool, length, func(g group, n int64) int { return cmp.Compare(g.length, n) })
		return at
	}
	put := func(length int64, cut int) {
		at := from(length)
		if at == len(pool) || pool[at].length != length {
			pool = slices.Insert(pool, at, group{length: length})
		}
		pool[at].cuts = append(pool[at].cuts, cut)
	}
	for i, p := range pieces {
		out.cuts = append(out.cuts, stripCut{length: p})
		put(p, i)
	}
	// take cuts n off a piece of a group, for the strip in the making.
	take := func(at int, n int64, strip *[]int64) {
		length, last := pool[at].length, len(pool[at].cuts)-1
		cut := pool[at].cuts[last]
		if pool[at].cuts = pool[at].cuts[:last]; last == 0 {
			pool = slices.Delete(pool, at, at+1)
		}
		*strip = append(*strip, n)
		out.cuts[cut].into = append(out.cuts[cut].into, n)
		if length -= n; length >= least {
			put(length, cut)
		}
	}
	for range count {
		var strip []int64
		for left := length; left > 0; {
			if at := from(left); at < len(pool) {
				take(at, left, &strip)
				break
			}
			if at := from(left-least+1) - 1; at >= 0 { // the longest that leaves enough
				left -= pool[at].length
				take(at, pool[at].length, &strip)
				continue
			}
			if len(pool) == 0 || left < 2*least {
				return joined{}, false
			}
			take(len(pool)-1, left-least, &strip) // longer than that, or it would have been taken whole
			left = least
		}
		out.strips = append(out.strips, strip)
	}
	return out, true
}

package cutting

import (
	"slices"

	"sabinbook/internal/units"
)

// block is a layout of one piece: columns × rows of whole batts that lie across × up, the last
// ones perhaps trimmed, with strips beside and above.
type block struct {
	across, up          int64
	columns, rows       int
	lastColumn, lastRow int64
	strips              []stripClass // count in each piece
}

// edge is how one side is divided: whole batts, the size of the last of them, and strips of a
// width beside.
type edge struct {
	whole       int
	last, width int64
	strips      int
}

// covered is what the whole batts cover.
func (e edge) covered(size int64) int64 {
	if e.whole == 0 {
		return 0
	}
	return int64(e.whole-1)*size + e.last
}

// edges lists how a side of length z is divided by batts of a size, with one batt fewer too.
// Source: costing_problem.md section 7.
func (b batt) edges(z, size int64) []edge {
	var list []edge
	whole := int(z / size)
	longest := max(b.long, b.wide)
	for _, m := range []int{whole, whole - 1} {
		if m < 0 {
			continue
		}
		rest := z - int64(m)*size
		half := ceilDiv(rest, 2)
		switch {
		case rest == 0:
			list = append(list, edge{m, size, 0, 0})
			continue
		case rest < b.least:
			if trimmed := size - (b.least - rest); m > 0 && trimmed >= b.least {
				list = append(list, edge{m, trimmed, b.least, 1})
			}
			continue
		case rest <= longest:
			list = append(list, edge{m, size, rest, 1})
		}
		if rest > b.least && half >= b.least && half <= longest {
			list = append(list, edge{m, size, half, 2})
		}
	}
	return list
}

// blocks lists the layouts of a piece of w × h.
func (b batt) blocks(w, h int64) []block {
	var list []block
	add := func(l block) {
		if !slices.ContainsFunc(list, l.like) {
			list = append(list, l)
		}
	}
	lie := func(across, up int64) {
		for _, x := range b.edges(w, across) {
			for _, y := range b.edges(h, up) {
				l := block{across: across, up: up, columns: x.whole, rows: y.whole, lastColumn: x.last, lastRow: y.last}
				upright := func(length int64) stripClass { return stripClass{x.width, length, x.strips, true} }
				level := func(length int64) stripClass { return stripClass{y.width, length, y.strips, false} }
				bw, bh := x.covered(across), y.covered(up)
				add(l.with(upright(h), level(bw)))
				if x.strips > 0 && y.strips > 0 {
					add(l.with(upright(bh), level(w)))
				}
			}
		}
	}
	lie(b.wide, b.long)
	if b.turn && b.wide != b.long {
		lie(b.long, b.wide)
	}
	return list
}

// like reports whether two layouts take the same batts and strips.
func (l block) like(k block) bool {
	return l.columns*l.rows == k.columns*k.rows && slices.Equal(l.strips, k.strips)
}

// with adds the strips that there are.
func (l block) with(strips ...stripClass) block {
	for _, s := range strips {
		if s.count > 0 && s.length > 0 {
			l.strips = append(l.strips, s)
		}
	}
	return l
}

// atLeast is how many batts and pieces a layout takes at least, from the area and the number of
// its strips.
func (b batt) atLeast(l block, count int) (batts, pieces int) {
	area := int64(0)
	pieces = l.columns * l.rows
	for _, s := range l.strips {
		area += int64(s.count) * s.width * s.length
		pieces += s.count
	}
	return count*l.columns*l.rows + int(ceilDiv(int64(count)*area, b.long*b.wide)), count * pieces
}

// mostJoints is the largest number of joints in one piece that is still put together. Convention:
// the source knows no limit, but nobody joins forty slivers to save a batt.
const mostJoints = 12

// mostRetries is how often more of a strip is asked for because its pieces could not be joined, twice
// as much each time. Convention.
const mostRetries = 6

// shared plans count pieces of a layout, whose strips may come from the same batts, with at most so
// many batts.
func (b batt) shared(p *BattPlanner, l block, count, most int) (laid, bool) {
	whole := l.columns * l.rows * count
	out := BattLayout{Across: units.FromTenths(l.across), Up: units.FromTenths(l.up), Columns: l.columns, Rows: l.rows,
		LastColumn: units.FromTenths(l.lastColumn), LastRow: units.FromTenths(l.lastRow), Whole: whole}
	plan := laid{BattPlan{Batts: whole, Layout: &out, Joints: l.columns*l.rows - 1}, whole}
	if len(l.strips) == 0 {
		return plan, true
	}
	for _, s := range l.strips {
		if s.length < b.least {
			return laid{}, false
		}
	}
	list := p.patterns(b, l.strips)
	var demand [2]int64
	for i, s := range l.strips {
		demand[i] = int64(count*s.count) * s.length
	}
	more := [2]int64{b.least, b.least}
	for range mostRetries {
		times, ok := fewest(list, demand, most-whole)
		if !ok {
			return laid{}, false
		}
		made := make([]joined, len(l.strips))
		failed := false
		for i, s := range l.strips {
			if made[i], ok = join(lengths(list, times, i), count*s.count, s.length, b.least); !ok {
				demand[i] += more[i]
				more[i] *= 2
				failed = true
			}
		}
		if failed {
			continue
		}
		for i, q := range list {
			if times[i] > 0 {
				plan.Batts += times[i]
				out.Cuts = append(out.Cuts, battCut(times[i], q))
			}
		}
		for i, s := range l.strips {
			strip, most, pieces := made[i].strip(s)
			if plan.Joints += s.count * most; plan.Joints > mostJoints {
				return laid{}, false
			}
			plan.pieces += pieces
			out.Strips = append(out.Strips, strip)
		}
		return plan, true
	}
	return laid{}, false
}

// lengths are those of all strips of a class that the patterns give, as often as they are used.
func lengths(list []pattern, times []int, class int) []int64 {
	var out []int64
	for i, p := range list {
		for range times[i] {
			for _, q := range p.parts {
				for range q.counts[class] {
					out = append(out, q.piece())
				}
			}
		}
	}
	return out
}

func battCut(times int, p pattern) BattCut {
	c := BattCut{Times: times}
	for _, q := range p.parts {
		c.Parts = append(c.Parts, BattPart{units.FromTenths(q.long), units.FromTenths(q.wide), q.lengthways, q.counts})
	}
	return c
}

// strip writes out what is joined, alike ones together, with the most pieces of a strip and the
// number of all.
func (j joined) strip(s stripClass) (out BattStrip, most, pieces int) {
	out = BattStrip{Width: units.FromTenths(s.width), Length: units.FromTenths(s.length), Upright: s.upright, PerPiece: s.count}
	for _, strip := range j.strips {
		most, pieces = max(most, len(strip)), pieces+len(strip)
		made := inUnits(strip)
		if at := slices.IndexFunc(out.Joined, func(x JoinedStrips) bool { return slices.Equal(x.Pieces, made) }); at >= 0 {
			out.Joined[at].Times++
			continue
		}
		out.Joined = append(out.Joined, JoinedStrips{1, made})
	}
	for _, c := range j.cuts {
		if len(c.into) == 0 || len(c.into) == 1 && c.into[0] == c.length {
			continue // spare, or used as it is
		}
		t := StripTrim{1, units.FromTenths(c.length), inUnits(c.into)}
		if at := slices.IndexFunc(out.Trims, func(x StripTrim) bool { return x.Length == t.Length && slices.Equal(x.Into, t.Into) }); at >= 0 {
			out.Trims[at].Times++
			continue
		}
		out.Trims = append(out.Trims, t)
	}
	return out, most, pieces
}

func inUnits(tenths []int64) []units.Length {
	out := make([]units.Length, len(tenths))
	for i, n := range tenths {
		out[i] = units.FromTenths(n)
	}
	return out
}

package page

import (
	"fmt"
	"strconv"
	"strings"

	"sabinbook/api/client"
)

// figure is a drawing with what is said below it.
type figure struct {
	Drawing drawing
	Words   string
}

// cutFigures draws how a line is cut. kerf is the width of a saw cut, nil where it is not told.
func cutFigures(l client.CostLine, kerf *float64) []figure {
	p := l.CutPlan
	if pieces(p) > mostPieces {
		return nil
	}
	switch {
	case len(p.Boards) > 0:
		return []figure{boards(p.Boards, kerf)}
	case len(p.Shelves) > 0 && p.UsableWidthMm != nil:
		return shelves(p.Shelves, *p.UsableWidthMm)
	}
	long, wide, known := battSize(l.Size)
	if !known {
		return nil
	}
	var list []figure
	if p.Layout != nil {
		list = append(list, laid(p.Layout))
		for _, c := range p.Layout.Cuts {
			list = append(list, cutBatt(c, p.Layout.Strips, long, wide))
		}
	}
	for _, c := range p.Batts {
		if f, ok := batt(c, long, wide); ok {
			list = append(list, f)
		}
	}
	return list
}

// mostPieces is how many pieces are drawn of one plan; a real one has far fewer, and what somebody wrote by hand shall not
// keep a machine busy.
const mostPieces = 2000

// pieces counts what a drawing of a plan would show.
func pieces(p *client.CutPlan) int64 {
	n := int64(0)
	add := func(count int64) { n += min(max(count, 0), mostPieces+1) }
	for _, b := range p.Boards {
		for _, x := range b.Pieces {
			add(x.Count)
		}
	}
	for _, s := range p.Shelves {
		for _, x := range s.Pieces {
			add(x.Count)
		}
	}
	for _, b := range p.Batts {
		add(b.PerBattCount)
	}
	if l := p.Layout; l != nil {
		add(min(max(l.ColumnsCount, 0), mostPieces) * min(max(l.RowsCount, 0), mostPieces))
		for _, s := range l.Strips {
			add(s.PerPieceCount)
		}
		for _, c := range l.Cuts {
			for _, x := range c.Parts {
				for _, count := range x.StripsCount {
					add(count)
				}
			}
		}
	}
	return n
}

// battSize reads a sold size, such as 6000x600x50: length, width, thickness.
func battSize(size *string) (long, wide float64, known bool) {
	if size == nil {
		return 0, 0, false
	}
	sides := strings.Split(*size, "x")
	if len(sides) != 3 {
		return 0, 0, false
	}
	long, err := strconv.ParseFloat(sides[0], 64)
	wide, err2 := strconv.ParseFloat(sides[1], 64)
	return long, wide, err == nil && err2 == nil && long > 0 && wide > 0
}

// boards draws every board that is cut in a way of its own: what is cut from it, and grey what remains.
func boards(list []client.BoardCut, kerf *float64) figure {
	const left, thick, step mm = 14, 6, 10
	longest := 0.0
	for _, b := range list {
		longest = max(longest, b.StockLengthMm)
	}
	s := scaleFor(longest, 180-left)
	d := drawing{Width: 180, Height: step*mm(len(list)) + 1, Title: "Boards and the pieces that are cut from them"}
	cut := 0.0
	if kerf != nil {
		cut = *kerf
	}
	for i, b := range list {
		y := 1 + step*mm(i)
		d.bold(left-2, y+thick/2+letters*0.36, "end", fmt.Sprintf("%d ×", b.Count))
		d.rect(left, y, s.of(b.StockLengthMm), thick, pale)
		at := 0.0
		for _, p := range b.Pieces {
			for range p.Count {
				d.rect(left+s.of(at), y, s.of(p.LengthMm), thick, paper)
				d.dimension(left+s.of(at), y, s.of(p.LengthMm), thick, number(p.LengthMm))
				at += p.LengthMm + cut
			}
		}
		if b.OffcutMm > 0 {
			d.dimension(left+s.of(b.StockLengthMm-b.OffcutMm), y, s.of(b.OffcutMm), thick, number(b.OffcutMm)+" left")
		}
	}
	words := fmt.Sprintf("Lengths to scale, %s, in mm; the thickness is not. Grey is left over.", s)
	if kerf != nil {
		words += fmt.Sprintf(" Between the pieces a saw cut of %s mm.", number(*kerf))
	}
	return figure{d, words}
}

// shelves draws each length that is cut off the roll: the roll runs to the right, its usable width stands up.
// What does not fit beside goes below.
func shelves(list []client.ClothShelf, usable float64) []figure {
	const left, head, gap mm = 10, 5, 6
	deepest := 0.0
	for _, sh := range list {
		deepest = max(deepest, sh.DepthMm)
	}
	s := max(scaleFor(usable, 64), scaleFor(deepest, 180-left))
	height := s.of(usable)
	var figures []figure
	d := drawing{Width: 180, Height: head + height + letters + 3, Title: "Lengths of cloth and the pieces that are cut from them"}
	x := left
	axis := func() { d.upward(left-2, head+height/2, number(usable)+" usable") }
	axis()
	words := fmt.Sprintf("To scale, %s, in mm. The roll runs from left to right; grey is left over. Mark each length across the whole roll, then cut the pieces from it.", s)
	for _, sh := range list {
		w := s.of(sh.DepthMm)
		name := fmt.Sprintf("%d ×", sh.Count)
		room := max(w, widthOf(name, letters))
		if x > left && x+room > 180 {
			figures = append(figures, figure{Drawing: d})
			d.Shapes, x = nil, left
			axis()
		}
		d.bold(x, head-1.4, "start", name)
		d.rect(x, head, w, height, pale)
		y := head
		for _, p := range sh.Pieces {
			for range p.Count {
				pw, ph := s.of(p.AlongMm), s.of(p.AcrossMm)
				d.rect(x, y, pw, ph, paper)
				if text := number(p.AlongMm) + " × " + number(p.AcrossMm); !d.dimension(x, y, pw, ph-letters-1.2, text) {
					d.dimension(x, y, pw, ph, number(p.AcrossMm))
				} else if widthOf(p.Name, letters) < pw && ph > 3*letters {
					d.bold(x+pw/2, y+ph-1.4, "middle", p.Name)
				}
				y += ph
			}
		}
		d.text(x+w/2, head+height+letters+1, "middle", number(sh.DepthMm))
		x += room + gap
	}
	return append(figures, figure{d, words})
}

// batt draws a batt and the pieces of one size that it gives, if the plan's number of them is found in at most
// two blocks of equal pieces, as the plan has it; below it the last batt, where that gives fewer.
func batt(c client.BattCut, long, wide float64) (figure, bool) {
	pieces := blocks(long, wide, c.PieceHeightMm, c.PieceWidthMm, int(c.PerBattCount))
	rest := c.PiecesCount - (c.BattsCount-1)*c.PerBattCount
	if pieces == nil || rest < 1 || rest > c.PerBattCount {
		return figure{}, false
	}
	const left, head mm = 14, 1
	s := max(scaleFor(long, 180-left), scaleFor(wide, 60))
	step := s.of(wide) + letters + 4
	d := drawing{Width: 180, Height: head + s.of(wide) + letters + 2, Title: "A batt and the pieces that are cut from it"}
	y := head
	put := func(batts int64, pieces []box) {
		d.bold(left-2, y+s.of(wide)/2+letters*0.36, "end", fmt.Sprintf("%d ×", batts))
		d.rect(left, y, s.of(long), s.of(wide), pale)
		for _, p := range pieces {
			d.rect(left+s.of(p.x), y+s.of(p.y), s.of(p.w), s.of(p.h), paper)
			d.dimension(left+s.of(p.x), y+s.of(p.y), s.of(p.w), s.of(p.h), number(c.PieceWidthMm)+" × "+number(c.PieceHeightMm))
		}
		d.text(left+s.of(long)/2, y+s.of(wide)+letters+1, "middle", number(long)+" × "+number(wide))
	}
	full := c.BattsCount
	if rest < c.PerBattCount {
		full--
	}
	if full > 0 {
		put(full, pieces)
	}
	if full > 0 && rest < c.PerBattCount {
		y += step
		d.Height += step
	}
	if rest < c.PerBattCount {
		put(1, pieces[:rest])
	}
	return figure{d, fmt.Sprintf("To scale, %s, in mm; grey is left over.", s)}, true
}

// box is a rectangle on the thing itself, in millimetres.
type box struct{ x, y, w, h float64 }

// blocks lays n pieces of a size on a batt: along is the side of a piece that lies along the batt. It tries
// one block, then two beside each other, pieces turned only where they must be. Nil where that is not how
// so many fit.
func blocks(long, wide, along, across float64, n int) []box {
	if along < long/mostPieces || across < wide/mostPieces || n <= 0 {
		return nil
	}
	fill := func(in box, along, across float64) []box {
		var list []box
		// A hair of tolerance: sizes have tenths, which binary fractions do not.
		for x := 0.0; x+along <= in.w+1e-6; x += along {
			for y := 0.0; y+across <= in.h+1e-6; y += across {
				list = append(list, box{in.x + x, in.y + y, along, across})
			}
		}
		return list
	}
	best := func(in box, turn bool) []box {
		list := fill(in, along, across)
		if turned := fill(in, across, along); turn && len(turned) > len(list) {
			return turned
		}
		return list
	}
	for _, turn := range []bool{false, true} {
		ways := [][2]box{{{0, 0, long, wide}, {}}}
		for _, step := range []float64{along, across} {
			for x := step; x < long; x += step {
				ways = append(ways, [2]box{{0, 0, x, wide}, {x, 0, long - x, wide}})
			}
			for y := step; y < wide; y += step {
				ways = append(ways, [2]box{{0, 0, long, y}, {0, y, long, wide - y}})
			}
		}
		for _, way := range ways {
			if list := append(best(way[0], turn), best(way[1], turn)...); len(list) >= n {
				return list[:n]
			}
		}
	}
	return nil
}

// laid draws how one piece is put together of whole batts and strips.
func laid(l *client.BattLayout) figure {
	bw, bh := 0.0, 0.0
	if l.ColumnsCount > 0 { // also where there is no row, beside strips that are as wide as the columns
		bw = float64(l.ColumnsCount-1)*l.AcrossMm + l.LastColumnMm
	}
	if l.RowsCount > 0 {
		bh = float64(l.RowsCount-1)*l.UpMm + l.LastRowMm
	}
	w, h := bw, bh
	for _, s := range l.Strips {
		if s.Upright {
			w += s.WidthMm * float64(s.PerPieceCount)
		} else {
			h += s.WidthMm * float64(s.PerPieceCount)
		}
		if s.Upright {
			h = max(h, s.LengthMm)
		} else {
			w = max(w, s.LengthMm)
		}
	}
	const left, head mm = 14, 1
	sc := max(scaleFor(w, 120), scaleFor(h, 90))
	d := drawing{Width: 180, Height: head + sc.of(h) + letters + 2, Title: "A piece of fill as it is laid of batts"}
	put := func(x, y, across, up float64, fill string) {
		top := head + sc.of(h-y-up) // the block lies at the bottom
		d.rect(left+sc.of(x), top, sc.of(across), sc.of(up), fill)
		d.dimension(left+sc.of(x), top, sc.of(across), sc.of(up), number(across)+" × "+number(up))
	}
	for c := range l.ColumnsCount {
		for r := range l.RowsCount {
			cw, ch := l.AcrossMm, l.UpMm
			if c == l.ColumnsCount-1 {
				cw = l.LastColumnMm
			}
			if r == l.RowsCount-1 {
				ch = l.LastRowMm
			}
			put(float64(c)*l.AcrossMm, float64(r)*l.UpMm, cw, ch, paper)
		}
	}
	right, up := bw, bh
	for _, s := range l.Strips {
		for range s.PerPieceCount {
			if s.Upright {
				put(right, 0, s.WidthMm, s.LengthMm, paler)
				right += s.WidthMm
			} else {
				put(0, up, s.LengthMm, s.WidthMm, paler)
				up += s.WidthMm
			}
		}
	}
	return figure{d, fmt.Sprintf("One piece as it is laid, to scale, %s, in mm. White is whole or trimmed batts, grey is strips, some of them joined end to end.", sc)}
}

// cutBatt draws how batts are cut into strips: at most one straight cut, then strips side by side in each part.
func cutBatt(c client.BattPattern, strips []client.BattStrip, long, wide float64) figure {
	const left, head mm = 14, 1
	s := max(scaleFor(long, 180-left), scaleFor(wide, 50))
	d := drawing{Width: 180, Height: head + s.of(wide) + letters + 2, Title: "A batt that is cut into strips"}
	d.bold(left-2, head+s.of(wide)/2+letters*0.36, "end", fmt.Sprintf("%d ×", c.Count))
	d.rect(left, head, s.of(long), s.of(wide), pale)
	x, y := 0.0, 0.0
	for _, p := range c.Parts {
		at := 0.0
		for i, n := range p.StripsCount[:min(len(p.StripsCount), len(strips))] {
			for range n {
				b := box{x + at, y, strips[i].WidthMm, p.WidthMm}
				if p.Lengthways {
					b = box{x, y + at, p.LengthMm, strips[i].WidthMm}
				}
				d.rect(left+s.of(b.x), head+s.of(b.y), s.of(b.w), s.of(b.h), paper)
				d.dimension(left+s.of(b.x), head+s.of(b.y), s.of(b.w), s.of(b.h), number(b.w)+" × "+number(b.h))
				at += strips[i].WidthMm
			}
		}
		if p.WidthMm < wide {
			y += p.WidthMm
		} else {
			x += p.LengthMm
		}
	}
	d.text(left+s.of(long)/2, head+s.of(wide)+letters+1, "middle", number(long)+" × "+number(wide))
	return figure{d, fmt.Sprintf("To scale, %s, in mm; grey is left over.", s)}
}

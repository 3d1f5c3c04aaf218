package api

import (
	"fmt"
	"strings"

	"sabinbook/internal/costing"
	"sabinbook/internal/cutting"
	"sabinbook/internal/units"
)

// encodeCutPlan writes how the pieces of a line are cut, nil for what is not cut.
func encodeCutPlan(l costing.Line) *CutPlan {
	out := &CutPlan{Boards: []BoardCut{}, Shelves: []ClothShelf{}, Batts: []BattCut{}}
	var words []string
	switch {
	case l.Boards != nil:
		out.Status = string(l.Boards.Status)
		stock := l.Boards.Length / units.Length(l.Boards.Count) // a line holds boards of one length
		for _, b := range l.Boards.Boards {
			cut := BoardCut{Count: int64(b.Times), StockLengthMm: float64(stock), OffcutMm: float64(b.Offcut)}
			var pieces []string
			for _, p := range b.Cuts {
				cut.Pieces = append(cut.Pieces, BoardPiece{LengthMm: float64(p.Length), Count: int64(p.Count)})
				pieces = append(pieces, fmt.Sprintf("%d of %g mm", p.Count, float64(p.Length)))
			}
			out.Boards = append(out.Boards, cut)
			words = append(words, fmt.Sprintf("%s of %g mm: %s, %g mm left", counted(b.Times, "board"), float64(stock), strings.Join(pieces, " and "), float64(b.Offcut)))
		}
	case l.Cloth != nil:
		out.Status = string(l.Cloth.Status)
		out.RollLengthMm, out.UsableWidthMm = place(float64(l.Cloth.Length)), place(float64(l.Cloth.Usable))
		for _, s := range l.Cloth.Shelves {
			shelf := ClothShelf{Count: int64(s.Times), DepthMm: float64(s.Depth)}
			var pieces []string
			for _, p := range s.Pieces {
				piece := l.Cut[p.Piece]
				across, along := piece.Width, piece.Height
				if p.Turned {
					across, along = along, across
				}
				shelf.Pieces = append(shelf.Pieces, ClothCut{Name: piece.Name, AcrossMm: float64(across), AlongMm: float64(along), Count: int64(p.Count)})
				pieces = append(pieces, fmt.Sprintf("%d %s %g mm across and %g mm along", p.Count, piece.Name, float64(across), float64(along)))
			}
			out.Shelves = append(out.Shelves, shelf)
			words = append(words, fmt.Sprintf("%s of %g mm: %s", counted(s.Times, "length"), float64(s.Depth), strings.Join(pieces, " beside ")))
		}
	case l.Batts != nil:
		out.Status = string(l.Batts.Status)
		if l.Batts.Joints > 0 {
			out.JointsCount = place(int64(l.Batts.Joints))
		}
		if l.Batts.Layout != nil {
			layout, text := encodeLayout(l.Batts.Layout)
			out.Layout, words = layout, text
		}
		for _, c := range l.Batts.Cells {
			out.Batts = append(out.Batts, BattCut{PieceWidthMm: float64(c.Width), PieceHeightMm: float64(c.Height), PiecesCount: int64(c.Count), PerBattCount: int64(c.PerBatt), BattsCount: int64(c.Batts)})
			words = append(words, fmt.Sprintf("%s: %s of %g x %g mm, %d from a batt", counted(c.Batts, "batt"), counted(c.Count, "piece"), float64(c.Width), float64(c.Height), c.PerBatt))
		}
	default:
		return nil
	}
	out.Text = strings.Join(words, "; ") + "."
	return out
}

// encodeLayout writes a layout, and the same in words.
func encodeLayout(l *cutting.BattLayout) (*BattLayout, []string) {
	out := &BattLayout{AcrossMm: float64(l.Across), UpMm: float64(l.Up), ColumnsCount: int64(l.Columns), RowsCount: int64(l.Rows),
		LastColumnMm: float64(l.LastColumn), LastRowMm: float64(l.LastRow), WholeBattsCount: int64(l.Whole), Strips: []BattStrip{}, Cuts: []BattPattern{}}
	var words []string
	if l.Whole > 0 {
		text := fmt.Sprintf("%s whole, %d x %d in a piece, lying %g mm across and %g mm up", counted(l.Whole, "batt"), l.Columns, l.Rows, float64(l.Across), float64(l.Up))
		if l.LastColumn < l.Across {
			text += fmt.Sprintf(", the last column trimmed to %g mm", float64(l.LastColumn))
		}
		if l.LastRow < l.Up {
			text += fmt.Sprintf(", the last row trimmed to %g mm", float64(l.LastRow))
		}
		words = append(words, text)
	}
	for _, c := range l.Cuts {
		cut, parts := BattPattern{Count: int64(c.Times)}, []string{}
		for _, p := range c.Parts {
			length := p.Long
			if !p.Lengthways {
				length = p.Wide
			}
			var strips []string
			counts := []int64{}
			for i, s := range l.Strips {
				counts = append(counts, int64(p.Strips[i]))
				if p.Strips[i] > 0 {
					strips = append(strips, fmt.Sprintf("%s of %g x %g mm", counted(p.Strips[i], "strip"), float64(s.Width), float64(length)))
				}
			}
			cut.Parts = append(cut.Parts, BattPart{LengthMm: float64(p.Long), WidthMm: float64(p.Wide), Lengthways: p.Lengthways, StripsCount: counts})
			parts = append(parts, fmt.Sprintf("a part of %g x %g mm into %s", float64(p.Long), float64(p.Wide), listed(strips, "and")))
		}
		out.Cuts = append(out.Cuts, cut)
		words = append(words, fmt.Sprintf("%s cut: %s", counted(c.Times, "batt"), listed(parts, "and")))
	}
	for _, s := range l.Strips {
		strip := BattStrip{WidthMm: float64(s.Width), LengthMm: float64(s.Length), Upright: s.Upright, PerPieceCount: int64(s.PerPiece), Joined: []JoinedStrips{}, Trims: []StripTrim{}}
		for _, j := range s.Joined {
			strip.Joined = append(strip.Joined, JoinedStrips{Count: int64(j.Times), PiecesMm: listOf(&j.Pieces, number[units.Length])})
			if len(j.Pieces) > 1 {
				words = append(words, fmt.Sprintf("%s of %g x %g mm joined from %s mm", counted(j.Times, "strip"), float64(s.Width), float64(s.Length), lengthsOf(j.Pieces)))
			}
		}
		for _, t := range s.Trims {
			strip.Trims = append(strip.Trims, StripTrim{Count: int64(t.Times), LengthMm: float64(t.Length), IntoMm: listOf(&t.Into, number[units.Length])})
		}
		out.Strips = append(out.Strips, strip)
	}
	return out, words
}

// lengthsOf writes lengths as 600 + 400.
func lengthsOf(list []units.Length) string {
	texts := make([]string, len(list))
	for i, l := range list {
		texts[i] = fmt.Sprintf("%g", float64(l))
	}
	return strings.Join(texts, " + ")
}

// measured is so much in a unit: 1 batt, 2 batts, 2.5 m.
func measured(x float64, unit string) string {
	if unit == "m" || x == 1 {
		return fmt.Sprintf("%g %s", x, unit)
	}
	return fmt.Sprintf("%g %ss", x, unit)
}

// counted is a number of things: 1 board, 2 boards.
func counted(n int, thing string) string {
	if n == 1 {
		return "1 " + thing
	}
	return fmt.Sprintf("%d %ss", n, thing)
}

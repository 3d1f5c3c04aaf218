package api

import (
	"fmt"
	"strings"

	"sabinbook/internal/costing"
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

package page

import (
	"encoding/json"
	"math"
	"slices"
	"strings"
	"testing"

	"pgregory.net/rapid"

	"sabinbook/api/client"
	"sabinbook/internal/cutting"
	"sabinbook/internal/units"
)

// boxes are the rectangles of a drawing, in millimetres on paper.
func boxes(d drawing) []box {
	var list []box
	for _, s := range d.Shapes {
		if s.Kind == "rect" {
			list = append(list, box{float64(s.X), float64(s.Y), float64(s.W), float64(s.H)})
		}
	}
	return list
}

const hair = 1e-6

func overlap(a, b box) bool {
	return a.x+a.w > b.x+hair && b.x+b.w > a.x+hair && a.y+a.h > b.y+hair && b.y+b.h > a.y+hair
}

func within(a, b box) bool {
	return a.x >= b.x-hair && a.y >= b.y-hair && a.x+a.w <= b.x+b.w+hair && a.y+a.h <= b.y+b.h+hair
}

func area(list []box) float64 {
	sum := 0.0
	for _, b := range list {
		sum += b.w * b.h
	}
	return sum
}

// apart says that no two boxes share more than an edge.
func apart(t *rapid.T, list []box) {
	for i, a := range list {
		for _, b := range list[:i] {
			if overlap(a, b) {
				t.Fatalf("%v and %v lie on each other", a, b)
			}
		}
	}
}

func side(t *rapid.T, low, high int, name string) units.Length {
	return units.FromTenths(int64(rapid.IntRange(low*2, high*2).Draw(t, name)) * 5)
}

// Every plan of whole pieces of which cutting counts n to a batt can be drawn with n pieces, apart and on the batt.
func TestBattsAreDrawnAsTheyAreCounted(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		long, wide := side(t, 300, 8000, "long"), side(t, 200, 1300, "wide")
		w, h := side(t, 80, 700, "w"), side(t, 80, 1300, "h")
		plan := cutting.Batts(w, h, rapid.IntRange(1, 12).Draw(t, "count"), long, wide, cutting.BattRules{Turn: rapid.Bool().Draw(t, "turn")})
		for _, c := range plan.Cells {
			list := blocks(float64(long), float64(wide), float64(c.Height), float64(c.Width), c.PerBatt)
			if len(list) != c.PerBatt {
				t.Fatalf("%d pieces of %v x %v from a batt of %v x %v are not found", c.PerBatt, c.Width, c.Height, long, wide)
			}
			apart(t, list)
			for _, b := range list {
				if !within(b, box{0, 0, float64(long), float64(wide)}) {
					t.Fatalf("%v is not on the batt", b)
				}
			}
			f, ok := batt(client.BattCut{PieceWidthMm: float64(c.Width), PieceHeightMm: float64(c.Height), PiecesCount: int64(c.Count), PerBattCount: int64(c.PerBatt), BattsCount: int64(c.Batts)}, float64(long), float64(wide))
			if !ok {
				t.Fatal("not drawn")
			}
			onPaper(t, f.Drawing)
			// The batts that are drawn give the pieces of the plan, each drawn batt as often as is written beside it.
			rest, drawn := c.Count-(c.Batts-1)*c.PerBatt, len(boxes(f.Drawing))
			want := 1 + rest
			if rest < c.PerBatt && c.Batts > 1 {
				want += 1 + c.PerBatt
			}
			if drawn != want {
				t.Fatalf("%d boxes for %d pieces, %d to a batt, %d in the last", drawn, c.Count, c.PerBatt, rest)
			}
		}
	})
}

// onPaper says that every shape lies on the drawing, and the letters of a drawing apart from each other.
func onPaper(t interface{ Fatalf(string, ...any) }, d drawing) {
	all := box{0, 0, float64(d.Width), float64(d.Height)}
	var texts []box
	if d.Width > 180 {
		t.Fatalf("%v mm is wider than the page", d.Width)
	}
	for _, s := range d.Shapes {
		switch s.Kind {
		case "rect":
			if b := (box{float64(s.X), float64(s.Y), float64(s.W), float64(s.H)}); !within(b, all) {
				t.Fatalf("%v does not lie on %v", b, all)
			}
		case "text":
			if s.Size < letters {
				t.Fatalf("%q is too small", s.Text)
			}
			b := textBox(s)
			if !within(b, all) {
				t.Fatalf("%q at %v does not lie on %v", s.Text, b, all)
			}
			for i, other := range texts {
				if overlap(b, other) {
					t.Fatalf("%q at %v and text %d at %v lie on each other", s.Text, b, i, other)
				}
			}
			texts = append(texts, b)
		}
		if s.Kind != "text" && s.Stroke < thin {
			t.Fatalf("a %s is drawn too thin: %v", s.Kind, s.Stroke)
		}
	}
}

// textBox is where a text stands: its letters rise three quarters of their size above the line and hang a fifth below it.
func textBox(s shape) box {
	w, up, down := float64(widthOf(s.Text, s.Size)), float64(s.Size)*0.75, float64(s.Size)*0.2
	from := 0.0
	switch s.Anchor {
	case "middle":
		from = -w / 2
	case "end":
		from = -w
	}
	if s.Turned {
		return box{float64(s.X) - up, float64(s.Y) - from - w, up + down, w}
	}
	return box{float64(s.X) + from, float64(s.Y) - up, w, up + down}
}

// wireLayout is the layout as the service tells it.
func wireLayout(l *cutting.BattLayout) *client.BattLayout {
	out := &client.BattLayout{AcrossMm: float64(l.Across), UpMm: float64(l.Up), ColumnsCount: int64(l.Columns), RowsCount: int64(l.Rows), LastColumnMm: float64(l.LastColumn), LastRowMm: float64(l.LastRow), WholeBattsCount: int64(l.Whole)}
	for _, c := range l.Cuts {
		cut := client.BattPattern{Count: int64(c.Times)}
		for _, p := range c.Parts {
			part := client.BattPart{LengthMm: float64(p.Long), WidthMm: float64(p.Wide), Lengthways: p.Lengthways}
			for i := range l.Strips {
				part.StripsCount = append(part.StripsCount, int64(p.Strips[i]))
			}
			cut.Parts = append(cut.Parts, part)
		}
		out.Cuts = append(out.Cuts, cut)
	}
	for _, s := range l.Strips {
		out.Strips = append(out.Strips, client.BattStrip{WidthMm: float64(s.Width), LengthMm: float64(s.Length), Upright: s.Upright, PerPieceCount: int64(s.PerPiece)})
	}
	return out
}

// A piece that is laid of batts and strips is drawn whole: its parts lie apart and fill it, and strips lie apart on the batts
// from which they are cut.
func TestLaidPiecesAreDrawnWhole(t *testing.T) {
	laidOut := 0
	rapid.Check(t, func(t *rapid.T) {
		long, wide := side(t, 600, 1300, "long"), side(t, 300, 700, "wide")
		w, h := side(t, 500, 1600, "w"), side(t, 700, 2600, "h")
		plan := cutting.Batts(w, h, rapid.IntRange(1, 6).Draw(t, "count"), long, wide, cutting.BattRules{Turn: rapid.Bool().Draw(t, "turn")})
		if plan.Layout == nil {
			return
		}
		laidOut++
		l := wireLayout(plan.Layout)
		size := number(float64(long)) + "x" + number(float64(wide)) + "x50"
		figures := cutFigures(client.CostLine{Size: &size, CutPlan: &client.CutPlan{Layout: l}}, nil)
		if len(figures) != 1+len(l.Cuts) {
			t.Fatalf("%d drawings, want %d", len(figures), 1+len(l.Cuts))
		}
		parts := boxes(figures[0].Drawing)
		apart(t, parts)
		onPaper(t, figures[0].Drawing)
		x, y, right, bottom := math.Inf(1), math.Inf(1), 0.0, 0.0
		for _, b := range parts {
			x, y, right, bottom = min(x, b.x), min(y, b.y), max(right, b.x+b.w), max(bottom, b.y+b.h)
		}
		if whole := (right - x) * (bottom - y); math.Abs(whole-area(parts)) > 1e-3*whole { // a half strip is rounded up to a tenth of a millimetre
			t.Fatalf("parts of %v mm2 do not fill the piece of %v mm2", area(parts), whole)
		}
		if ratio := (right - x) / (bottom - y); math.Abs(ratio-float64(w)/float64(h)) > 1e-3*ratio {
			t.Fatalf("the piece is drawn %v to 1, but is %v x %v", ratio, w, h)
		}
		for _, f := range figures[1:] {
			list := boxes(f.Drawing)
			apart(t, list[1:])
			for _, b := range list[1:] {
				if !within(b, list[0]) {
					t.Fatalf("the strip %v does not lie on the batt %v", b, list[0])
				}
			}
			onPaper(t, f.Drawing)
		}
	})
	if laidOut == 0 {
		t.Error("no piece was laid of several batts")
	}
}

// A plan that nobody could cut is not drawn and keeps nothing busy.
func TestEndlessPlansAreNotDrawn(t *testing.T) {
	size := "1e9x1e9x1"
	for _, text := range []string{
		`{"boards":[{"count":1,"stock_length_mm":3000,"pieces":[{"count":9000000000000000000,"length_mm":1}]}]}`,
		`{"usable_width_mm":1500,"shelves":[{"count":1,"depth_mm":10,"pieces":[{"count":9000000000000000000,"across_mm":1,"along_mm":1}]}]}`,
		`{"batts":[{"batts_count":1,"per_batt_count":5,"pieces_count":5,"piece_height_mm":0.001,"piece_width_mm":0.001}]}`,
		`{"layout":{"columns_count":9000000000000000000,"rows_count":9000000000000000000}}`,
	} {
		var p client.CutPlan
		if err := json.Unmarshal([]byte(text), &p); err != nil {
			t.Fatal(err)
		}
		if list := cutFigures(client.CostLine{Size: &size, CutPlan: &p}, nil); len(list) != 0 {
			t.Errorf("%s is drawn", text)
		}
	}
	var p client.CutPlan // more counts than strips
	if err := json.Unmarshal([]byte(`{"layout":{"columns_count":1,"rows_count":1,"across_mm":600,"up_mm":1200,"last_column_mm":600,"last_row_mm":1200,"cuts":[{"count":1,"parts":[{"length_mm":1200,"width_mm":600,"strips_count":[1,2]}]}]}}`), &p); err != nil {
		t.Fatal(err)
	}
	size = "1200x600x50"
	cutFigures(client.CostLine{Size: &size, CutPlan: &p}, nil)
}

// Boards and cloth are drawn to scale: pieces and what is left make up the board, apart from the saw cuts.
func TestBoardsAndClothAreDrawnToScale(t *testing.T) {
	d, err := read(keptDocument(t))
	if err != nil {
		t.Fatal(err)
	}
	kerf := *d.Answer.Inputs.KerfMm
	seen := 0
	for _, o := range d.Answer.Options {
		for _, l := range o.Cost.Lines {
			if l.CutPlan == nil {
				continue
			}
			figures := cutFigures(l, &kerf)
			if len(figures) == 0 {
				t.Errorf("%s of %s is not drawn", l.Need, o.Key)
			}
			for _, f := range figures {
				onPaper(t, f.Drawing)
			}
			for i, b := range l.CutPlan.Boards {
				seen++
				pieces := 0.0
				list := boxes(figures[0].Drawing)
				at := slices.IndexFunc(list, func(x box) bool { return x.y > float64(i)*10 })
				board := list[at]
				for _, x := range list[at+1:] {
					if within(x, board) {
						pieces += x.w
					}
				}
				scale := b.StockLengthMm / board.w
				want := 0.0
				for _, p := range b.Pieces {
					want += p.LengthMm * float64(p.Count)
				}
				if math.Abs(pieces*scale-want) > 0.01 {
					t.Errorf("pieces of %v mm are drawn as %v mm at 1 : %v", want, pieces*scale, scale)
				}
			}
		}
	}
	if seen == 0 {
		t.Error("no board was looked at")
	}
}

// Curves are told apart without colour, and their names do not lie on each other, however alike the curves are.
func TestCurvesAreLegible(t *testing.T) {
	dashes, marks := map[string]bool{}, map[string]bool{}
	for _, m := range manners {
		path, fill := m.mark(0, 0)
		dashes[m.dash], marks[path+fill] = true, true
	}
	if len(dashes) != len(manners) || len(marks) != len(manners) {
		t.Errorf("%d dashes and %d marks for %d curves", len(dashes), len(marks), len(manners))
	}
	rapid.Check(t, func(t *rapid.T) {
		var curves []curve
		for range rapid.IntRange(1, len(manners)).Draw(t, "curves") {
			k := curve{Label: rapid.StringN(0, 80, -1).Draw(t, "label"), Under: "1 layer of 50 mm, 50 mm of air behind"}
			for _, o := range octaveNames {
				k.Points = append(k.Points, point{o.hz, rapid.Float64Range(0, 1.4).Draw(t, "alpha")})
				k.Bounds = append(k.Bounds, bound{o.hz, 0.5, -0.1, 1.5})
			}
			curves = append(curves, k)
			onPaper(t, single(k))
		}
		onPaper(t, together(curves))
	})
	k, err := read(keptDocument(t))
	if err != nil {
		t.Fatal(err)
	}
	for _, o := range k.Answer.Options {
		c := curveOf(o)
		thirds := o.Absorption.BandBasis == "third_octave"
		if want := map[bool]int{false: 6, true: 18}[thirds]; len(c.Points) != want {
			t.Errorf("%s has %d points, want %d", o.Key, len(c.Points), want)
		}
		if d := single(c); strings.Count(pathOf(d), "M") != 1 {
			t.Errorf("the curve of %s is broken: %s", o.Key, pathOf(d))
		}
	}
}

// pathOf is the curve of a drawing of one.
func pathOf(d drawing) string {
	for _, s := range d.Shapes {
		if s.Kind == "path" {
			return s.Path
		}
	}
	return ""
}

// A curve is a hole where a band is not known, and never a line across it.
func TestUnknownBandsBreakTheCurve(t *testing.T) {
	var bands client.Bands
	if err := json.Unmarshal([]byte(`{"alpha_125_hz":0.1,"alpha_250_hz":0.2,"alpha_1000_hz":0.9,"alpha_2000_hz":1}`), &bands); err != nil {
		t.Fatal(err)
	}
	if d := single(curve{Points: points(bands)}); strings.Count(pathOf(d), "M") != 2 {
		t.Errorf("the curve goes across 500 Hz: %s", pathOf(d))
	}
}

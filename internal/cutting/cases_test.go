package cutting_test

import (
	"encoding/json"
	"fmt"
	"math"
	"os"
	"slices"
	"testing"

	"sabinbook/internal/cutting"
	"sabinbook/internal/money"
	"sabinbook/internal/units"
)

// Source of all cases: cutting_cases.json of the reference (definitions in
// costing_problem.md sections 5 to 7), proven there by independent solvers. All figures are
// whole and compared exactly.
type testCase struct {
	ID, Title, Kind string
	Kerf            float64 `json:"kerf_mm"`
	Trim            float64 `json:"trim_mm"`
	Pieces          []struct {
		Len    float64 `json:"len_mm"`
		Across float64 `json:"across_mm"`
		Along  float64 `json:"along_mm"`
		Count  int
		Rotate bool
	}
	Boards []struct {
		Len   float64 `json:"len_mm"`
		Price int64   `json:"price_cents"`
		Max   int
	}
	RollWidth   float64 `json:"roll_width_mm"`
	Selvedge    float64 `json:"selvedge_mm"`
	Gap         float64 `json:"gap_mm"`
	Step        float64 `json:"sold_step_mm"`
	EndTrim     float64 `json:"end_trim_mm"`
	Shrink      int     `json:"shrink_bp"`
	ShrinkWidth int     `json:"shrink_width_bp"`
	Panels      int
	InnerW      float64 `json:"inner_w_mm"`
	InnerH      float64 `json:"inner_h_mm"`
	BattL       float64 `json:"batt_l_mm"`
	BattW       float64 `json:"batt_w_mm"`
	MinPiece    float64 `json:"min_piece_mm"`
	Oversize    float64 `json:"oversize_mm"`
	Rotate      bool
	Layers      int
	Expected    struct {
		Status           string
		Cost             int64 `json:"cost_cents"`
		Boards           int
		TotalLength      float64   `json:"total_length_mm"`
		TooLong          []float64 `json:"too_long_mm"`
		LowerBoundMat    int64     `json:"lower_bound_material_cents"`
		HeuristicBFD     int64     `json:"heuristic_bfd_cents"`
		Usable           float64   `json:"usable_width_mm"`
		Length           float64   `json:"length_mm"`
		Buy              float64   `json:"buy_length_mm"`
		LowerBoundLength float64   `json:"lower_bound_any_layout_mm"`
		TooWide          []int     `json:"too_wide_pieces"`
		Batts            int
		LowerBoundBatts  int `json:"lower_bound_batts"`
	}
}

func loadCases(t *testing.T) []testCase {
	t.Helper()
	text, err := os.ReadFile("testdata/cutting_cases.json")
	if err != nil {
		t.Fatal(err)
	}
	var file struct{ Cases []testCase }
	if err := json.Unmarshal(text, &file); err != nil {
		t.Fatal(err)
	}
	if len(file.Cases) != 26 {
		t.Fatalf("%d cases, the file has 26", len(file.Cases))
	}
	return file.Cases
}

func TestCases(t *testing.T) {
	for _, c := range loadCases(t) {
		t.Run(c.ID, func(t *testing.T) {
			switch c.Kind {
			case "1d":
				checkBoards(t, c)
			case "fabric":
				checkCloth(t, c)
			case "fill":
				checkBatts(t, c)
			default:
				t.Fatalf("kind %q", c.Kind)
			}
		})
	}
}

func checkBoards(t *testing.T, c testCase) {
	var bars []cutting.Bar
	for _, p := range c.Pieces {
		bars = append(bars, cutting.Bar{Length: units.Length(p.Len), Count: p.Count})
	}
	var stock []cutting.Stock
	for _, b := range c.Boards {
		stock = append(stock, cutting.Stock{Length: units.Length(b.Len), Price: money.FromMinor(b.Price, "EUR"), Max: b.Max})
	}
	rules := cutting.BoardRules{Kerf: units.Length(c.Kerf), Trim: units.Length(c.Trim)}
	plan := cutting.Boards(bars, stock, rules)
	if c.Expected.Status == "infeasible" {
		if plan.Status != cutting.Infeasible || len(plan.TooLong) != len(c.Expected.TooLong) || float64(plan.TooLong[0]) != c.Expected.TooLong[0] {
			t.Fatalf("got %+v, want too long %v", plan, c.Expected.TooLong)
		}
		return
	}
	if err := validBoards(plan, bars, stock, rules); err != nil {
		t.Error(err)
	}
	cost := plan.Cost.Minor()
	if plan.Status != cutting.Optimal || cost != c.Expected.Cost || plan.Count != c.Expected.Boards || float64(plan.Length) != c.Expected.TotalLength {
		t.Errorf("%s: cost %d, %d boards, %g mm; want %d, %d, %g", plan.Status, cost, plan.Count, float64(plan.Length), c.Expected.Cost, c.Expected.Boards, c.Expected.TotalLength)
	}
	// The heuristic of the large sizes must stay valid and within its bound on these too.
	rough := cutting.Boards(bars, stock, cutting.BoardRules{Kerf: rules.Kerf, Trim: rules.Trim, States: 1})
	if rough.Status == cutting.NotFound || len(stock) == 1 && len(bars) <= 2 {
		return
	}
	if err := validBoards(rough, bars, stock, rules); err != nil {
		t.Errorf("best fit: %v", err)
	}
	if rough.Cost.Cmp(plan.Cost) < 0 || rough.LowerBound.Cmp(plan.Cost) > 0 || rough.CountBound > plan.Count {
		t.Errorf("best fit %s, bound %s, %d boards at least; the optimum is %s with %d", rough.Cost, rough.LowerBound, rough.CountBound, plan.Cost, plan.Count)
	}
}

// validBoards checks a plan against the definition alone: every piece is cut the number of
// times asked, Σ l + (m−1) k <= L − trim on each board, limits kept, sums right.
func validBoards(plan cutting.BoardPlan, bars []cutting.Bar, stock []cutting.Stock, rules cutting.BoardRules) error {
	need := map[units.Length]int{}
	for _, b := range bars {
		need[b.Length] += b.Count
	}
	used := make([]int, len(stock))
	cost, count, length := money.Amount{}, 0, units.Length(0)
	for _, b := range plan.Boards {
		sum, pieces := units.Length(0), 0
		for _, c := range b.Cuts {
			sum += c.Length * units.Length(c.Count)
			pieces += c.Count
			need[c.Length] -= c.Count * b.Times
		}
		if pieces == 0 {
			return fmt.Errorf("an empty board")
		}
		room := stock[b.Stock].Length - rules.Trim
		filled := sum + units.Length(pieces-1)*rules.Kerf
		if filled > room+1e-6 {
			return fmt.Errorf("board %+v holds %g mm of %g", b, float64(filled), float64(room))
		}
		if offcut := max(0, room-filled-rules.Kerf); math.Abs(float64(offcut-b.Offcut)) > 1e-6 {
			return fmt.Errorf("board %+v leaves %g mm", b, float64(offcut))
		}
		used[b.Stock] += b.Times
		count += b.Times
		cost = cost.Add(stock[b.Stock].Price.Times(int64(b.Times)))
		length += stock[b.Stock].Length * units.Length(b.Times)
	}
	for l, n := range need {
		if n != 0 {
			return fmt.Errorf("%d pieces of %g mm are missing or too many", n, float64(l))
		}
	}
	for s, n := range used {
		if stock[s].Max > 0 && n > stock[s].Max {
			return fmt.Errorf("%d boards of stock %d, there are %d", n, s, stock[s].Max)
		}
	}
	if cost.Cmp(plan.Cost) != 0 || count != plan.Count || math.Abs(float64(length-plan.Length)) > 1e-6 {
		return fmt.Errorf("sums %s, %d, %g differ from the plan's", cost, count, float64(length))
	}
	return nil
}

func checkCloth(t *testing.T, c testCase) {
	var pieces []cutting.ClothPiece
	for _, p := range c.Pieces {
		pieces = append(pieces, cutting.ClothPiece{Across: units.Length(p.Across), Along: units.Length(p.Along), Count: p.Count, Turn: p.Rotate})
	}
	roll := cutting.Roll{Width: units.Length(c.RollWidth), Selvedge: units.Length(c.Selvedge), ShrinkWidthBP: c.ShrinkWidth, ShrinkLongBP: c.Shrink}
	rules := cutting.ClothRules{Gap: units.Length(c.Gap), EndTrim: units.Length(c.EndTrim), Step: units.Length(c.Step)}
	plan := cutting.Cloth(pieces, roll, rules)
	if c.Expected.Status == "infeasible" {
		if plan.Status != cutting.Infeasible || !slices.Equal(plan.TooWide, c.Expected.TooWide) {
			t.Fatalf("got %+v, want too wide %v", plan, c.Expected.TooWide)
		}
		return
	}
	if err := validCloth(plan, pieces, rules); err != nil {
		t.Error(err)
	}
	if plan.Status != cutting.Optimal || float64(plan.Usable) != c.Expected.Usable || float64(plan.Length) != c.Expected.Length ||
		float64(plan.Buy) != c.Expected.Buy || float64(plan.LowerBound) != c.Expected.LowerBoundLength {
		t.Errorf("got %+v, want %+v", plan, c.Expected)
	}
	rules.States = 1
	rough := cutting.Cloth(pieces, roll, rules)
	if err := validCloth(rough, pieces, rules); err != nil {
		t.Errorf("first fit: %v", err)
	}
	if rough.Length < plan.Length || rough.LowerBound > plan.Length {
		t.Errorf("first fit takes %g mm, bound %g; the optimum is %g", float64(rough.Length), float64(rough.LowerBound), float64(plan.Length))
	}
}

// validCloth checks a layout against the definition alone: shelves hold their pieces side by
// side with gaps, none deeper than its shelf, turned only where allowed, counts met.
func validCloth(plan cutting.ClothPlan, pieces []cutting.ClothPiece, rules cutting.ClothRules) error {
	need := make([]int, len(pieces))
	length := units.Length(0)
	for _, s := range plan.Shelves {
		width, n := units.Length(0), 0
		for _, p := range s.Pieces {
			across, along := pieces[p.Piece].Across, pieces[p.Piece].Along
			if p.Turned {
				if !pieces[p.Piece].Turn {
					return fmt.Errorf("piece %d may not be turned", p.Piece)
				}
				across, along = along, across
			}
			if along > s.Depth {
				return fmt.Errorf("piece %d is %g mm deep in a shelf of %g", p.Piece, float64(along), float64(s.Depth))
			}
			width += across * units.Length(p.Count)
			n += p.Count
			need[p.Piece] += p.Count * s.Times
		}
		if width+units.Length(n-1)*rules.Gap > plan.Usable || n == 0 {
			return fmt.Errorf("shelf %+v is %g mm wide of %g", s, float64(width), float64(plan.Usable))
		}
		length += s.Depth * units.Length(s.Times)
	}
	for i, p := range pieces {
		if need[i] != p.Count {
			return fmt.Errorf("%d of piece %d, want %d", need[i], i, p.Count)
		}
	}
	if length != plan.Length {
		return fmt.Errorf("shelves add up to %g, the plan says %g", float64(length), float64(plan.Length))
	}
	return nil
}

func checkBatts(t *testing.T, c testCase) {
	w, h, n := units.Length(c.InnerW), units.Length(c.InnerH), c.Panels*c.Layers
	rules := cutting.BattRules{Oversize: units.Length(c.Oversize), MinPiece: units.Length(c.MinPiece), Turn: c.Rotate}
	plan := cutting.Batts(w, h, n, units.Length(c.BattL), units.Length(c.BattW), rules)
	if err := validBatts(plan, w, h, n, units.Length(c.BattL), units.Length(c.BattW), rules); err != nil {
		t.Error(err)
	}
	if plan.LowerBound != c.Expected.LowerBoundBatts {
		t.Errorf("bound %d, want %d", plan.LowerBound, c.Expected.LowerBoundBatts)
	}
	// A valid plan between the bound and the reference is accepted (costing_problem.md section 7).
	if plan.Batts > c.Expected.Batts || string(plan.Status) != c.Expected.Status {
		t.Errorf("%d batts, %s; want %d, %s", plan.Batts, plan.Status, c.Expected.Batts, c.Expected.Status)
	}
}

// validBatts checks a plan against the definition alone: the cells of a panel cover its area
// at least, none is narrower than the least piece (unless the panel is), each fits the
// batt as often as said by area, and the batts suffice.
func validBatts(plan cutting.BattPlan, w, h units.Length, n int, long, wide units.Length, rules cutting.BattRules) error {
	w, h = w+rules.Oversize, h+rules.Oversize
	if plan.Layout != nil {
		return validLayout(plan, w, h, n, long, wide, rules)
	}
	area, batts := 0.0, 0
	for _, c := range plan.Cells {
		if min(c.Width, c.Height) < min(rules.MinPiece, w, h) {
			return fmt.Errorf("cell %+v is a sliver", c)
		}
		fits := c.Width <= wide && c.Height <= long || rules.Turn && c.Width <= long && c.Height <= wide
		if !fits || float64(c.PerBatt)*float64(c.Width*c.Height) > float64(long*wide) {
			return fmt.Errorf("cell %+v does not fit %g x %g", c, float64(long), float64(wide))
		}
		if c.Batts*c.PerBatt < c.Count {
			return fmt.Errorf("cell %+v takes more batts", c)
		}
		area += float64(c.Count) * float64(c.Width*c.Height)
		batts += c.Batts
	}
	if area < float64(n)*float64(w*h)*(1-1e-12) || batts != plan.Batts || plan.Batts < plan.LowerBound {
		return fmt.Errorf("cells cover %g of %g, %d batts: %+v", area, float64(n)*float64(w*h), batts, plan)
	}
	return nil
}

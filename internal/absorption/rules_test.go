// Rules of thumb of the trade beside published rows and the model. Each test states what
// the rows say; where a rule says something else, the test does not follow the rule.
//
// The rules are common practice: no source is claimed for them. Rows are named by their
// id; testdata/surfaces.csv (S...) and testdata/porous.csv (P...) hold the source of each
// row, read in transcriptions. Their NRC is worked out from the row (ASTM C423, see
// package ratings) on octave values, which is customary with handbooks. It is exact
// arithmetic, so there is no tolerance.

package absorption_test

import (
	"bytes"
	"encoding/csv"
	"fmt"
	"maps"
	"math"
	"os"
	"slices"
	"strconv"
	"testing"

	"sabinbook/internal/absorber"
	"sabinbook/internal/bands"
	"sabinbook/internal/ratings"
	"sabinbook/internal/units"
)

// publishedRow is one line of surfaces.csv or porous.csv, by column.
type publishedRow map[string]string

// published returns all rows of both files by id.
func published(t *testing.T) map[string]publishedRow {
	t.Helper()
	all := map[string]publishedRow{}
	for _, name := range []string{"surfaces.csv", "porous.csv"} {
		content, err := os.ReadFile("testdata/" + name)
		if err != nil {
			t.Fatal(err)
		}
		records, err := csv.NewReader(bytes.NewReader(content)).ReadAll()
		if err != nil {
			t.Fatal(err)
		}
		for _, rec := range records[1:] {
			r := publishedRow{}
			for i, column := range records[0] {
				r[column] = rec[i]
			}
			all[r["id"]] = r
		}
	}
	return all
}

// figure reads a cell that holds a number; it is not a number when the cell is empty.
func (r publishedRow) figure(t *testing.T, column string) float64 {
	t.Helper()
	if r[column] == "" {
		return math.NaN()
	}
	v, err := strconv.ParseFloat(r[column], 64)
	if err != nil {
		t.Fatalf("%s, %s: %v", r["id"], column, err)
	}
	return v
}

// at returns the printed coefficient of an octave.
func (r publishedRow) at(t *testing.T, hz int) float64 {
	t.Helper()
	return r.figure(t, fmt.Sprintf("alpha_%dhz", hz))
}

// curve returns the octaves of the row.
func (r publishedRow) curve(t *testing.T) bands.Curve {
	t.Helper()
	c := bands.NewCurve(bands.Octave)
	for _, b := range bands.Octaves() {
		if v := r.at(t, b.Nominal()); !math.IsNaN(v) {
			c.Set(b, v)
		}
	}
	return c
}

// onWall says whether the specimen lay against the wall. Many handbooks print no mounting;
// the column remarks says where A was taken for granted.
func (r publishedRow) onWall() bool { return r["mounting"] == "A" || r["mounting"] == "B" }

// idsOf lists, in order, the rows that belong: a rule may not pick among them.
func idsOf(all map[string]publishedRow, belongs func(publishedRow) bool) []string {
	var list []string
	for id, r := range all {
		if belongs(r) {
			list = append(list, id)
		}
	}
	slices.Sort(list)
	return list
}

// nrcOf is what each row rates, by id.
type nrcOf map[string]ratings.Hundredths

func (want nrcOf) check(t *testing.T, all map[string]publishedRow) {
	t.Helper()
	for id, nrc := range want {
		r, there := all[id]
		if !there || r["source"] == "" {
			t.Errorf("%s: no row, or no source in it", id)
			continue
		}
		if got, ok := ratings.NRC(r.curve(t)); !ok || got != nrc {
			t.Errorf("%s, %s: NRC %v, want %v", id, r["description"], got, nrc)
		}
	}
}

func (want nrcOf) ids() []string { return slices.Sorted(maps.Keys(want)) }

func (want nrcOf) span() (low, high ratings.Hundredths) {
	values := slices.Collect(maps.Values(want))
	return slices.Min(values), slices.Max(values)
}

// spans fails unless the coefficients of the rows at the octaves run from low to high.
func spans(t *testing.T, all map[string]publishedRow, of []string, hz []int, low, high float64) {
	t.Helper()
	least, most := math.Inf(1), math.Inf(-1)
	for _, id := range of {
		for _, f := range hz {
			v := all[id].at(t, f)
			least, most = min(least, v), max(most, v)
		}
	}
	if least != low || most != high {
		t.Errorf("%v at %v Hz run from %v to %v, want %v to %v", of, hz, least, most, low, high)
	}
}

// rises fails unless the second row minus the first is, in hundredths, as listed for the
// octaves 125 Hz to 4000 Hz.
func rises(t *testing.T, all map[string]publishedRow, first, second string, want [bands.OctaveCount]int) {
	t.Helper()
	for i, b := range bands.Octaves() {
		got := math.Round(100 * (all[second].at(t, b.Nominal()) - all[first].at(t, b.Nominal())))
		if got != float64(want[i]) {
			t.Errorf("%s over %s at %s: %v hundredths, want %d", second, first, b, got, want[i])
		}
	}
}

// octavesOf returns what the model gives for layers on a wall, with its six octaves. The
// front is endless unless the conditions say otherwise.
func octavesOf(
	t *testing.T, c absorber.Conditions, layers ...absorber.Layer,
) (absorber.Prediction, [bands.OctaveCount]float64) {
	t.Helper()
	p, err := absorber.Predict(layers, c)
	if err != nil {
		t.Fatal(err)
	}
	var v [bands.OctaveCount]float64
	for i := range v {
		v[i], _ = p.Octaves().Octave(i)
	}
	return p, v
}

// printed is how far a figure of a table of the absorber model ground may be from the
// truth: the tables were rounded to three decimals and then half up to two.
const printed = 0.0055

// agrees fails unless got is within an absolute tolerance of want.
func agrees(t *testing.T, what string, got, want, tolerance float64) {
	t.Helper()
	if !(math.Abs(got-want) <= tolerance) {
		t.Errorf("%s: %.4f, want %v within %v", what, got, want, tolerance)
	}
}

// Rule (common practice): polished stone and other hard surfaces absorb almost nothing.
//
// Holds for whatever is heavy and closed: stone, tile, smooth or painted concrete, painted
// brick, terrazzo. No octave passes 0.05 up to 2000 Hz, 0.07 at 4000 Hz; marble (S022) has
// 0.02 at most. What merely feels hard is another thing, and the rule hides its absorption:
// open pores (S012, S014, S015, little S013) absorb at middle bands until they are painted
// (S016), open joints too (S006, S009), and thin panes and boards (S059, S044) at 125 Hz.
func TestHardSurfacesAbsorbAlmostNothing(t *testing.T) {
	all := published(t)
	closed := nrcOf{
		"S002": 0, "S005": 0, "S011": 5, "S017": 5, "S018": 0, "S019": 0, "S020": 0,
		"S021": 0, "S022": 0, "S024": 0, "S025": 0, "S068": 0, "S069": 0, "S074": 0,
	}
	closed.check(t, all)
	spans(t, all, closed.ids(), []int{125, 250, 500, 1000, 2000}, 0.01, 0.05)
	spans(t, all, closed.ids(), []int{4000}, 0.02, 0.07)
	spans(t, all, []string{"S022"}, []int{125, 250, 500, 1000, 2000, 4000}, 0.01, 0.02)

	nrcOf{"S006": 15, "S009": 30, "S012": 50, "S013": 10, "S014": 45, "S015": 35, "S016": 5, "S044": 15, "S059": 15}.check(t, all)
	spans(t, all, []string{"S044", "S059"}, []int{125}, 0.28, 0.35)
}

// Rule (common practice): plasterboard on studs rates 0.15.
//
// No row does. All eight boards before a space rate 0.05 or 0.10; their single octaves from
// 250 Hz to 2000 Hz run from 0.02 to 0.14. The rule flatters middle and high bands. It is a
// fair figure of 125 Hz alone, where six of the eight have 0.15 to 0.30 and the two over an
// empty cavity (S036, S038) do not reach it; NRC does not count that band. A ceiling under a
// large air space (S043) rates 0.10 too.
func TestPlasterboardRatesLessThanSaid(t *testing.T) {
	all := published(t)
	boards := nrcOf{"S035": 5, "S036": 5, "S037": 10, "S038": 5, "S039": 10, "S040": 5, "S041": 5, "S042": 5}
	boards.check(t, all)
	got := idsOf(all, func(r publishedRow) bool { return r["category"] == "wall_plasterboard" })
	if !slices.Equal(got, boards.ids()) {
		t.Errorf("the rows of plasterboard are %v", got)
	}
	spans(t, all, boards.ids(), []int{250, 500, 1000, 2000}, 0.02, 0.14)
	spans(t, all, []string{"S035", "S037", "S039", "S040", "S041", "S042"}, []int{125}, 0.15, 0.30)
	spans(t, all, []string{"S036", "S038"}, []int{125}, 0.08, 0.11)
	nrcOf{"S043": 10}.check(t, all)
}

// Rule (common practice): thick carpet rates 0.3 on concrete, 0.35 to 0.55 on underlay.
//
// No row says what thick is; the rows are grouped by what lies below. On a hard floor six
// carpets run from 0.20 to 0.40 and half of them rate 0.30. On underlay eight of nine lie in
// the range; S092, on twice the usual underlay, rates 0.60. The rule flatters what is flat
// or cannot breathe: haircord on felt (S086) and carpet bonded to closed-cell foam (S099)
// rate 0.25, five thin carpets 0.10 to 0.20. And it hides that the absorption is high up: at
// 125 Hz no carpet has more than 0.20, the heavy one on concrete (S083) has 0.02 there and
// 0.65 at 4000 Hz.
func TestCarpetIsBetterOnUnderlay(t *testing.T) {
	all := published(t)
	hard := nrcOf{"S083": 30, "S088": 25, "S089": 30, "S090": 40, "S093": 30, "S096": 20}
	soft := nrcOf{"S084": 55, "S085": 35, "S087": 45, "S091": 55, "S092": 60, "S094": 50, "S095": 40, "S098": 40, "S100": 45}
	other := nrcOf{"S086": 25, "S099": 25, "S097": 20, "S101": 15, "S102": 15, "S103": 10, "S104": 20}

	var named []string
	for _, group := range []nrcOf{hard, soft, other} {
		group.check(t, all)
		named = append(named, group.ids()...)
	}
	slices.Sort(named)
	if got := idsOf(all, func(r publishedRow) bool { return r["category"] == "carpet" }); !slices.Equal(got, named) {
		t.Errorf("the rows of carpet are %v", got)
	}
	for _, id := range soft.ids() {
		if within := soft[id] >= 35 && soft[id] <= 55; within == (id == "S092") {
			t.Errorf("%s rates %v", id, soft[id])
		}
	}
	spans(t, all, named, []int{125}, 0.01, 0.20)
	spans(t, all, []string{"S083"}, []int{125, 4000}, 0.02, 0.65)
}

// Rule (common practice): fibrous panels of 50 mm rate 0.95 to 1.
//
// Of nine rows of bare mineral wool on a wall two do, both dense: P013 (60 kg/m³, from a
// table that is cut at 1) rates 0.95 and P025 (96 kg/m³, from one that is not) 1.00. The
// other seven run from 0.70 to 0.90. Wood wool (P038) and two covered wools, one of film and
// metal (P059) and one sprayed (P061), rate 0.60 to 0.85. The rule flatters light wool, a
// closed face, and a panel of which nobody says how it was mounted: it is the figure of a
// laboratory specimen with its edges.
func TestFiftyMillimetresRateLessThanSaid(t *testing.T) {
	all := published(t)
	bare := nrcOf{"P002": 80, "P013": 95, "P025": 100, "P053": 75, "P060": 70, "P073": 75, "P077": 90, "P086": 85, "P087": 80}
	other := nrcOf{"P038": 60, "P059": 85, "P061": 65}
	bare.check(t, all)
	other.check(t, all)

	named := append(bare.ids(), other.ids()...)
	slices.Sort(named)
	if got := idsOf(all, func(r publishedRow) bool {
		d := r.figure(t, "thickness_mm")
		return r.onWall() && d >= 50 && d < 52
	}); !slices.Equal(got, named) {
		t.Errorf("the rows of 50 mm on a wall are %v", got)
	}
	if low, high := bare.span(); low != 70 || high != 100 {
		t.Errorf("bare wool rates %v to %v", low, high)
	}
	for _, id := range bare.ids() {
		if dense := id == "P013" || id == "P025"; (bare[id] >= 95) != dense {
			t.Errorf("%s rates %v", id, bare[id])
		}
	}
}

// The model is lower still: an endless front has no edges. With 10 000 Pa·s/m² the mean of
// the four octaves is 0.67 (0.37, 0.61, 0.80 and 0.90, absorber model ground section 4) and
// the NRC, from the thirds, 0.65, below every row of bare wool above. Cut to a specimen of
// 3.6 m x 3.0 m the same layer has 0.70, 0.87, 0.90 and 0.93 (section 6): NRC 0.85. No
// resistivity from 2500 to 80 000 Pa·s/m² lifts the endless layer above 0.75 (computed).
func TestFiftyMillimetresWithoutEdgesRateLessThanRows(t *testing.T) {
	fill := absorber.Fill{Resistivity: 10_000, Thickness: 50}
	mean := func(v [bands.OctaveCount]float64) float64 { return (v[1] + v[2] + v[3] + v[4]) / 4 }
	specimen := absorber.Conditions{Patch: absorber.Patch{Length: 3600, Width: 3000}}
	for _, c := range []struct {
		name string
		with absorber.Conditions
		mean float64
		nrc  ratings.Hundredths
	}{
		{"endless", absorber.Conditions{}, 0.67, 65},
		{"3.6 m x 3.0 m", specimen, 0.85, 85},
	} {
		p, v := octavesOf(t, c.with, fill)
		agrees(t, c.name, mean(v), c.mean, printed)
		if nrc, ok := ratings.NRC(p.Thirds); !ok || nrc != c.nrc {
			t.Errorf("%s: NRC %v, want %v", c.name, nrc, c.nrc)
		}
	}
	for _, sigma := range []units.AirflowResistivity{2500, 5000, 10_000, 20_000, 40_000, 80_000} {
		p, _ := octavesOf(t, absorber.Conditions{}, absorber.Fill{Resistivity: sigma, Thickness: 50})
		if nrc, _ := ratings.NRC(p.Thirds); nrc > 75 {
			t.Errorf("%v Pa·s/m²: NRC %v", sigma, nrc)
		}
	}
}

// Rule (common practice): all panels are weak below 250 Hz.
//
// Holds for every bare row up to 50 mm on a wall: 0.03 to 0.25 at 125 Hz, while the same
// rows reach 0.83 at 250 Hz, so that the rule must not be read "at 250 Hz". The example of
// ISO 12999-2:2020 puts ±0.17 on a value at 125 Hz (second hand), so most of these rows
// cannot be told apart. The rule is too gloomy for depth: a film and perforated metal over 51 mm
// (P059) have 0.33, 100 mm 0.43 to 0.88, 25 mm under a plenum of 400 mm (P016) 0.65.
func TestThinPanelsAreWeakAtLowBands(t *testing.T) {
	all := published(t)
	thickness := func(r publishedRow) float64 { return r.figure(t, "thickness_mm") }
	thin := idsOf(all, func(r publishedRow) bool { return r.onWall() && thickness(r) < 52 && r["facing"] == "none" })
	if want := []string{
		"P001", "P002", "P005", "P013", "P014", "P015", "P025", "P038", "P052", "P053", "P056",
		"P060", "P066", "P067", "P070", "P073", "P076", "P077", "P086", "P087", "P092",
	}; !slices.Equal(thin, want) {
		t.Errorf("the bare rows up to 50 mm are %v", thin)
	}
	spans(t, all, thin, []int{125}, 0.03, 0.25)
	spans(t, all, thin, []int{250}, 0.10, 0.83)
	for _, id := range thin {
		if r := all[id]; !(r.at(t, 125) <= r.at(t, 250)) {
			t.Errorf("%s falls from 125 Hz to 250 Hz", id)
		}
	}

	spans(t, all, []string{"P059"}, []int{125}, 0.33, 0.33)
	thick := idsOf(all, func(r publishedRow) bool { return r.onWall() && thickness(r) >= 100 && thickness(r) < 105 })
	if want := []string{"P004", "P008", "P011", "P021", "P034", "P055"}; !slices.Equal(thick, want) {
		t.Errorf("the rows of 100 mm on a wall are %v", thick)
	}
	spans(t, all, thick, []int{125}, 0.43, 0.88)
	spans(t, all, []string{"P016"}, []int{125}, 0.65, 0.65)
}

// Rule (common practice): air behind a panel raises its low bands.
//
// No row has 50 mm of air and a twin on the wall. 25 mm of air (P058) give 25 mm of glass
// wool 0.07 at 125 Hz, 0.30 at 250 Hz, and at 500 Hz 0.35 or 0.15, by which of two twins it
// is set against: P052 is of another original table, P056 of the same, and its density is a
// range. A plenum (P016) gives 25 mm of board 0.62 at 125 Hz and 0.72 at 250 Hz. The rule
// flatters thick boards: behind 76 mm (P028) the plenum helps at 125 Hz and costs at 250 Hz
// and 500 Hz, behind 102 mm (P022) it costs 0.19 at 125 Hz and 0.23 at 250 Hz. The twins on
// the wall are above 1 at 250 Hz; edges are part of that.
func TestAirBehindRaisesLowBandsOfThinRows(t *testing.T) {
	all := published(t)
	rises(t, all, "P052", "P058", [...]int{7, 30, 35, 15, 10, 15})
	rises(t, all, "P056", "P058", [...]int{7, 30, 15, 5, 5, 5})
	rises(t, all, "P015", "P016", [...]int{62, 72, 7, 7, 4, 15})
	rises(t, all, "P027", "P028", [...]int{12, -20, -12, 5, 9, 14})
	rises(t, all, "P021", "P022", [...]int{-19, -23, -4, 6, 10, 19})
}

// The same in the model, with 50 mm of air behind. For 50 mm of 10 000 Pa·s/m² the gap
// gives 0.06, 0.12 and 0.14 at 125, 250 and 500 Hz (rows v14 and v15 of the reference
// vectors, two independent implementations: 0.159, 0.368, 0.610 become 0.220, 0.488, 0.752;
// printed to three decimals here, so true to 0.001 in a difference). The other rows are
// computed, with the same tolerance. The rule flatters thin panels at 125 Hz, where 25 mm
// gain 0.03 only, and fails for a thick and dense one: 100 mm of 80 000 Pa·s/m² lose a little.
func TestAirBehindRaisesLowBandsInTheModel(t *testing.T) {
	for _, c := range []struct {
		sigma units.AirflowResistivity
		thick units.Length
		gain  [3]float64 // 125, 250 and 500 Hz
	}{
		{10_000, 25, [...]float64{0.025, 0.069, 0.138}},
		{10_000, 50, [...]float64{0.061, 0.120, 0.142}},
		{10_000, 100, [...]float64{0.090, 0.077, 0.030}},
		{80_000, 100, [...]float64{-0.008, -0.004, 0.000}},
	} {
		fill := absorber.Fill{Resistivity: c.sigma, Thickness: c.thick}
		_, without := octavesOf(t, absorber.Conditions{}, fill)
		_, with := octavesOf(t, absorber.Conditions{}, fill, absorber.Gap{Depth: 50})
		for i, want := range c.gain {
			what := fmt.Sprintf("%v mm of %v Pa·s/m², octave %d", c.thick, c.sigma, i)
			agrees(t, what, with[i]-without[i], want, 0.001)
		}
	}
}

// Rule (common practice): a fabric above about 1500 Pa·s/m costs absorption above 1 kHz
// while the low bands stay.
//
// Holds for 50 mm of 10 000 Pa·s/m² on a wall: the differences below are those of the table
// printed in section 4 of the absorber model ground, so they are true to twice its rounding.
// The low bands do better than stay beside a bare fill; beside a fabric of 800 they stay
// within 0.02. The rule flatters fabrics below its limit, which cost too: 800 takes 0.03 at
// 2000 Hz and 0.10 at 4000 Hz; and above it 3000 takes 0.06 at 1000 Hz already. It depends
// on the fabric being free to move with 0.2 kg/m² (common practice).
func TestTightFabricCostsHighBands(t *testing.T) {
	fill := absorber.Fill{Resistivity: 10_000, Thickness: 50}
	under := func(r units.AirflowResistance) [bands.OctaveCount]float64 {
		_, v := octavesOf(t, absorber.Conditions{}, absorber.Fabric{Resistance: r, SurfaceMass: 0.2}, fill)
		return v
	}
	for _, c := range []struct {
		fabric, than units.AirflowResistance // 0 is the bare fill
		want         [bands.OctaveCount]float64
	}{
		{800, 0, [...]float64{0.03, 0.16, 0.29, 0.14, -0.03, -0.10}},
		{1500, 0, [...]float64{0.02, 0.16, 0.31, 0.06, -0.15, -0.22}},
		{3000, 0, [...]float64{0.02, 0.14, 0.30, -0.06, -0.33, -0.40}},
		{1500, 800, [...]float64{-0.01, 0.00, 0.02, -0.08, -0.12, -0.12}},
		{3000, 800, [...]float64{-0.01, -0.02, 0.01, -0.20, -0.30, -0.30}},
	} {
		with, without := under(c.fabric), under(c.than)
		for i, want := range c.want {
			what := fmt.Sprintf("%v over %v, octave %d", c.fabric, c.than, i)
			agrees(t, what, with[i]-without[i], want, 2*printed)
		}
	}
}

// The rule of the tight fabric does not hold for a loose fill: over 50 mm of 2500 Pa·s/m² a
// fabric of 1500 gains at 2000 Hz, because the fill alone is too open there, and costs at
// 4000 Hz only (computed; signs, so there is no tolerance). At 125 Hz and 250 Hz a limp
// fabric of 1500 costs none of the fills anything.
func TestTightFabricOnOtherFills(t *testing.T) {
	for _, sigma := range []units.AirflowResistivity{2500, 5000, 10_000, 20_000, 40_000, 80_000} {
		fill := absorber.Fill{Resistivity: sigma, Thickness: 50}
		_, bare := octavesOf(t, absorber.Conditions{}, fill)
		_, with := octavesOf(t, absorber.Conditions{}, absorber.Fabric{Resistance: 1500, SurfaceMass: 0.2}, fill)
		if with[0] < bare[0] || with[1] < bare[1] {
			t.Errorf("%v Pa·s/m²: the fabric costs low bands", sigma)
		}
		if gains := with[4] > bare[4]; gains != (sigma == 2500) {
			t.Errorf("%v Pa·s/m²: %.3f with fabric, %.3f without at 2000 Hz", sigma, with[4], bare[4])
		}
		if with[5] >= bare[5] {
			t.Errorf("%v Pa·s/m²: the fabric costs nothing at 4000 Hz", sigma)
		}
	}
}

// No published row states the flow resistance of a cover on a twin. Two pairs show the same
// with closed skins: a thin sprayed plastic (P061 over P060, otherwise one specimen) leaves
// all bands up to 1000 Hz as they are and costs 0.10 and 0.15 above; foil and paper on
// board (P031, whose density is not printed, so a doubtful twin of P015) cost 0.23 and more
// from 1000 Hz and raise 250 Hz by 0.52.
func TestClosedSkinsCostHighBands(t *testing.T) {
	all := published(t)
	rises(t, all, "P060", "P061", [...]int{0, 0, 0, 0, -10, -15})
	rises(t, all, "P015", "P031", [...]int{9, 52, 3, -23, -43, -75})
}

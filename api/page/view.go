package page

import (
	"cmp"
	"fmt"
	"html/template"
	"reflect"
	"slices"
	"strconv"
	"strings"
	"time"

	"sabinbook/api/client"
	"sabinbook/internal/money"
)

// view is what a sheet says, in words and drawings, before it has a form.
type view struct {
	Style         template.CSS
	Title, Status string
	Kept          string
	Note          string
	Invented      string // set when something is made up for a demonstration
	Question      []string
	Origin        string
	Rows          []row
	Together      []drawing
	Singles       []curveFigure
	Builds        []build
	Usual         []client.Note
	Notes         []client.Note
	Sources       []client.SourceRef
	Digest        string
	Versions      string
}

// row is one option beside the others.
type row struct {
	Place, Fill, Layers, Fabric, Key string
	Basis, Evidence, Note            string
	Total, PerPanel                  string
	Area, AlphaW, Class, NRC         string
	Minutes, Mass, Tie               string
}

// curveFigure is the curve of one option.
type curveFigure struct {
	Label, Layers string
	Drawing       drawing
	Bounds        []bound
	Warnings      []client.Note
}

// unknown stands where a figure is not known.
const unknown = "not known"

func newView(bytes []byte, c Choice) (*view, error) {
	d, err := read(bytes)
	if err != nil {
		return nil, err
	}
	options, err := chosen(d, c)
	if err != nil {
		return nil, err
	}
	a := d.Answer
	v := &view{Style: template.CSS(style), Title: d.About.Name, Status: d.About.Status, Note: orZero(d.About.Note),
		Kept:     fmt.Sprintf("Kept by %s on %s", d.About.KeptBy, minute(d.About.KeptTime)),
		Question: question(a.Inputs), Usual: usual, Notes: a.Notes, Sources: a.Sources, Digest: d.Digest,
		Versions: fmt.Sprintf("%s, revision %d; program %s, model %s, catalog revision %d", d.About.ID, d.About.Revision, d.ProgramVersion, d.ModelVersion, a.CatalogRevision)}
	if slices.ContainsFunc(a.Sources, func(s client.SourceRef) bool { return s.Invented }) {
		v.Invented = "Some of the suppliers, goods or prices on this sheet are invented for demonstration; their sources are marked so. Do not go shopping by it."
	}
	notes := map[string]string{}
	for _, n := range d.OptionNotes {
		notes[n.Key] = n.Note
	}
	var curves []curve
	for _, o := range a.Options {
		v.Rows = append(v.Rows, rowOf(o, notes[o.Key]))
		k := curveOf(o)
		curves = append(curves, k)
		v.Singles = append(v.Singles, curveFigure{k.Label, k.Under, single(k), k.Bounds, o.Absorption.Warnings})
	}
	for list := range slices.Chunk(curves, len(manners)) {
		if len(curves) > 1 {
			v.Together = append(v.Together, together(list))
		}
	}
	v.Origin = origin(d.KeptFrom)
	for _, o := range options {
		v.Builds = append(v.Builds, buildOf(d, o, notes[o.Key]))
	}
	return v, nil
}

func orZero[T any](p *T) T {
	if p == nil {
		var zero T
		return zero
	}
	return *p
}

// minute writes a time in RFC 3339 for people.
func minute(text string) string {
	t, err := time.Parse(time.RFC3339, text)
	if err != nil {
		return text
	}
	return t.UTC().Format("2006-01-02 at 15:04 UTC")
}

// fixed writes a figure with so many places, or that it is not known.
func fixed(x *float64, places int) string {
	if x == nil {
		return unknown
	}
	return strconv.FormatFloat(*x, 'f', places, 64)
}

func fixedMoney(m *client.Money) string {
	if m == nil {
		return unknown
	}
	return amount(*m)
}

// question says in words what was asked.
func question(q client.RankingQuestion) []string {
	panels := "Panels"
	switch {
	case q.PanelCount != nil:
		panels = counted(float64(*q.PanelCount), "panel")
	case orZero(q.PanelCountFrom) == "room":
		panels = "As many panels as the room takes"
	}
	if p := q.Panel; p != nil && p.WidthMm != nil && p.HeightMm != nil {
		panels += fmt.Sprintf(", %s mm wide and %s mm high", number(*p.WidthMm), number(*p.HeightMm))
	}
	if q.AirGapsMm != nil {
		var gaps []string
		for _, g := range *q.AirGapsMm {
			gaps = append(gaps, number(g))
		}
		panels += ", with " + listed(gaps, "or") + " mm of air behind the fill"
	}
	list := []string{panels + "."}
	if r := q.Room; r != nil {
		list = append(list, roomWords(r))
	}
	order := "Ordered by " + said(orders, orZero(q.Order))
	if q.Purpose != nil {
		order += ", " + said(purposes, q.Purpose.Name)
	}
	list = append(list, order+".")
	prices := fmt.Sprintf("Prices in %s as of %s", q.Currency, cmp.Or(orZero(q.AsOfDate), unknown))
	switch orZero(q.TaxBasis) {
	case "included":
		prices += ", tax included"
	case "excluded":
		prices += ", before tax"
	}
	if d := orZero(q.MaxPriceAgeDays); d > 0 {
		prices += fmt.Sprintf("; prices older than %d days are %s", d, orZero(q.OldPrices))
	}
	if q.Region != nil {
		prices += "; suppliers of the region " + *q.Region
	}
	list = append(list, prices+".")
	if l := q.Limits; l != nil {
		list = append(list, limits(l)...)
	}
	if q.OwnedRoles != nil && len(*q.OwnedRoles) > 0 {
		var have []string
		for _, r := range *q.OwnedRoles {
			have = append(have, strings.ToLower(said(roles, r)))
		}
		list = append(list, "There already: "+listed(have, "and")+".")
	}
	if q.StockOnHand != nil && len(*q.StockOnHand) > 0 {
		list = append(list, "What lies in the rack is used first: "+counted(float64(len(*q.StockOnHand)), "kind")+" of thing.")
	}
	return list
}

func roomWords(r *client.RoomQuestion) string {
	words := "For the room"
	if r.StoredRoom != nil {
		words += " " + *r.StoredRoom
	}
	if s := r.Room; s != nil {
		switch {
		case s.LengthM != nil && s.WidthM != nil && s.HeightM != nil:
			words += fmt.Sprintf(" of %s m x %s m, %s m high", number(*s.LengthM), number(*s.WidthM), number(*s.HeightM))
		case s.VolumeM3 != nil:
			words += fmt.Sprintf(" of %s m³", number(*s.VolumeM3))
		}
	}
	if t := r.Target; t != nil {
		words += ", target " + said(nil, t.Rule)
		if t.Group != nil {
			words += " " + *t.Group
		}
		if t.TimeS != nil {
			words += fmt.Sprintf(" of %s s", number(*t.TimeS))
		}
		if t.FromHz != nil && t.ToHz != nil {
			words += fmt.Sprintf(" from %d Hz to %d Hz", *t.FromHz, *t.ToHz)
		}
	}
	return words + "."
}

func limits(l *client.RankingLimits) []string {
	var list []string
	if l.Budget != nil {
		list = append(list, "No more than "+amount(*l.Budget)+".")
	}
	if l.DepthFromWallMm != nil {
		list = append(list, "No farther than "+number(*l.DepthFromWallMm)+" mm from the wall.")
	}
	if l.ExtraTimeMin != nil {
		list = append(list, "No more than "+number(*l.ExtraTimeMin)+" extra minutes.")
	}
	if l.PanelMassKg != nil {
		list = append(list, "No panel heavier than "+number(*l.PanelMassKg)+" kg.")
	}
	if l.Fire != nil {
		list = append(list, fmt.Sprintf("Declared under %s as %s: %s.", said(schemes, l.Fire.Scheme), listed(l.Fire.Codes, "or"), listed(l.Fire.Of, "and")))
	}
	if l.Avoid != nil && len(*l.Avoid) > 0 {
		list = append(list, "Without: "+strings.ReplaceAll(listed(*l.Avoid, "and"), "_", " ")+".")
	}
	return list
}

// mostPlaces is how many places are told in a sentence; of more the document tells.
const mostPlaces = 6

// origin says where the options stood among everything.
func origin(k client.ShortlistOrigin) string {
	words := fmt.Sprintf("Taken from %d options with a price among %d combinations.", k.RankedCount, k.CandidatesCount)
	var places []string
	for i, p := range k.Places {
		if p.Place != nil {
			places = append(places, fmt.Sprintf("place %d here stood on %d", i+1, *p.Place))
		}
	}
	if len(places) > 0 && len(places) <= mostPlaces {
		words += " Then " + listed(places, "and") + "."
	}
	return words + " That was so when they were kept; the document does not prove it."
}

// layersOf says layers, thickness and air.
func layersOf(o client.RankedOption) string {
	return fmt.Sprintf("%s of %s mm, %s mm of air behind", counted(float64(o.LayersCount), "layer"), number(o.ThicknessMm), number(o.AirGapMm))
}

func placeOf(o client.RankedOption) string {
	if o.Place == nil {
		return "–"
	}
	return strconv.FormatInt(*o.Place, 10)
}

func rowOf(o client.RankedOption, note string) row {
	r := row{Place: placeOf(o), Fill: o.Fill.Name, Layers: layersOf(o), Fabric: o.Fabric.Name, Key: o.Key, Note: note,
		Basis: said(bases, o.Absorption.Basis), Total: fixedMoney(o.Cost.Total), PerPanel: fixedMoney(o.Cost.PerPanel),
		Area: fixed(&o.Absorption.AreaM2, 2), AlphaW: unknown, NRC: fixed(o.Ratings.Nrc, 2),
		Minutes: fixed(o.Burden.ExtraTimeMin, 0), Mass: fixed(o.PanelMassKg, 1), Tie: "–"}
	if w := o.Ratings.Weighted; w != nil {
		r.AlphaW = fixed(&w.AlphaW, 2)
		if s := orZero(w.ShapeIndicators); s != "" {
			r.AlphaW += "(" + s + ")"
		}
		r.Class = w.Class
		if len(w.Class) == 1 {
			r.Class = "class " + w.Class
		}
		r.Class = strings.ReplaceAll(r.Class, "_", " ")
	}
	if o.Likely != nil {
		r.Tie = strconv.FormatInt(o.Likely.TieGroup, 10)
	}
	if t := o.Absorption.Test; t != nil {
		r.Evidence = "Test: " + t.Name
		if c := o.Absorption.TestChoice; c != nil {
			r.Evidence += ". " + c.Text
		}
	}
	return r
}

// labelOf names an option in a picture.
func labelOf(o client.RankedOption) string { return placeOf(o) + "  " + o.Fill.Name }

// curveOf takes the coefficients of an option as they are told, thirds where there are thirds.
func curveOf(o client.RankedOption) curve {
	c := curve{Label: labelOf(o), Under: layersOf(o), Points: points(o.Absorption.Bands)}
	for _, b := range o.Absorption.Octaves {
		c.Bounds = append(c.Bounds, bound{float64(b.OctaveHz), b.Alpha, b.LowAlpha, b.HighAlpha})
	}
	slices.SortFunc(c.Bounds, func(p, q bound) int { return cmp.Compare(p.Hz, q.Hz) })
	return c
}

// points reads the bands by the names of their members, such as alpha_500_hz.
func points(bands client.Bands) []point {
	var list []point
	v := reflect.ValueOf(bands)
	for i := range v.NumField() {
		alpha, ok := v.Field(i).Interface().(*float64)
		if !ok || alpha == nil {
			continue
		}
		name, _, _ := strings.Cut(v.Type().Field(i).Tag.Get("json"), ",")
		hz, err := strconv.ParseFloat(strings.TrimSuffix(strings.TrimPrefix(name, "alpha_"), "_hz"), 64)
		if err == nil {
			list = append(list, point{hz, *alpha})
		}
	}
	slices.SortFunc(list, func(p, q point) int { return cmp.Compare(p.Hz, q.Hz) })
	return list
}

// sum adds two amounts; it is not known where they do not go together.
func sum(a, b client.Money) string {
	x, err := money.Parse(a.Amount, money.Currency(a.Currency))
	y, err2 := money.Parse(b.Amount, money.Currency(b.Currency))
	if err != nil || err2 != nil || a.Currency != b.Currency {
		return unknown
	}
	return x.Add(y).String() + " " + a.Currency
}

package page

import (
	"cmp"
	"fmt"
	"math"
	"slices"
	"strconv"
	"strings"
)

// curve is what a panel absorbs, band by band.
type curve struct {
	Label  string
	Under  string  // said below the label
	Points []point // by rising frequency
	Bounds []bound // of octaves
}

type point struct{ Hz, Alpha float64 }

type bound struct{ Hz, Alpha, Low, High float64 }

// manner is how a curve is drawn: told apart without colour by its dashes and by its mark.
type manner struct {
	dash string
	mark func(x, y mm) (path, fill string)
}

// manners are as many as are told apart in one picture.
var manners = []manner{
	{"", disc},
	{"2.4 1", square},
	{"0.7 0.9", triangle},
	{"3.6 0.9 0.7 0.9", diamond},
	{"1.4 0.8", cross},
	{"4.5 1.4", ring},
}

const markSize mm = 0.95

func disc(x, y mm) (string, string) { return circle(x, y, markSize), ink }
func ring(x, y mm) (string, string) { return circle(x, y, markSize), paper }

func circle(x, y, r mm) string {
	return fmt.Sprintf("M%s %sa%s %s 0 1 0 %s 0a%s %s 0 1 0 %s 0z", x-r, y, r, r, 2*r, r, r, -2*r)
}

func square(x, y mm) (string, string) {
	r := markSize * 0.9
	return fmt.Sprintf("M%s %sh%sv%sh%sz", x-r, y-r, 2*r, 2*r, -2*r), paper
}

func triangle(x, y mm) (string, string) {
	r := markSize * 1.15
	return fmt.Sprintf("M%s %sl%s %sh%sz", x, y-r, r, 1.8*r, -2*r), ink
}

func diamond(x, y mm) (string, string) {
	r := markSize * 1.25
	return fmt.Sprintf("M%s %sl%s %sl%s %sl%s %sz", x, y-r, r, r, -r, r, -r, -r), paper
}

func cross(x, y mm) (string, string) {
	r := markSize
	return fmt.Sprintf("M%s %sl%s %sM%s %sl%s %s", x-r, y-r, 2*r, 2*r, x-r, y+r, 2*r, -2*r), nought
}

// axes are where frequency and coefficient stand on paper.
type axes struct {
	left, top, width, height mm
	low, high                float64 // Hz
}

// topAlpha is the upper end of the scale of coefficients: tests may tell more than 1.
const topAlpha = 1.2

// The least ends of the axis of frequencies, half a band beyond the outer octaves.
const (
	lowHz  = 100.0
	highHz = 5000.0
)

func (a axes) x(hz float64) mm {
	return a.left + a.width*mm(math.Log(hz/a.low)/math.Log(a.high/a.low))
}

// y holds a value to the scale; what lies beyond is told in figures beside the picture.
func (a axes) y(alpha float64) mm {
	return a.top + a.height*mm(1-min(max(alpha, 0), topAlpha)/topAlpha)
}

// octaveNames are the centres that are written on the axis, as people say them.
var octaveNames = []struct {
	hz   float64
	name string
}{{125, "125"}, {250, "250"}, {500, "500"}, {1000, "1k"}, {2000, "2k"}, {4000, "4k"}}

// grid draws the axes: a line every octave and every 0.2, the line of 1.0 heavier.
func (a axes) grid(d *drawing) {
	for i := range 7 {
		alpha := float64(i) / 5
		stroke, dash := thin, "0.3 0.9"
		if i == 0 || i == 5 {
			stroke, dash = 0.3, ""
		}
		d.line(a.left, a.y(alpha), a.width, 0, stroke, dash)
		d.text(a.left-1.2, a.y(alpha)+letters*0.36, "end", fmt.Sprintf("%.1f", alpha))
	}
	for _, o := range octaveNames {
		d.line(a.x(o.hz), a.top, 0, a.height, thin, "0.3 0.9")
		d.text(a.x(o.hz), a.top+a.height+letters+1, "middle", o.name)
	}
	d.text(a.left+a.width, a.top+a.height+2*letters+1.8, "end", "Hz")
}

// draw draws a curve, with marks at the places given; a missing octave or third breaks the line.
func (a axes) draw(d *drawing, c curve, m manner, marks []point) {
	var path strings.Builder
	last := 0.0
	for i, p := range c.Points {
		verb := "L"
		if i == 0 || p.Hz/last > c.step()*1.2 {
			verb = "M"
		}
		fmt.Fprintf(&path, "%s%s %s", verb, a.x(p.Hz), a.y(p.Alpha))
		last = p.Hz
	}
	d.path(path.String(), heavy, m.dash, nought)
	for _, p := range marks {
		path, fill := m.mark(a.x(p.Hz), a.y(p.Alpha))
		d.path(path, 0.3, "", fill)
	}
}

// step is the ratio between neighbours: 2 for octaves, 1.26 for thirds.
func (c curve) step() float64 {
	if slices.ContainsFunc(c.Points, func(p point) bool { return !isOctave(p.Hz) }) {
		return math.Cbrt(2)
	}
	return 2
}

func isOctave(hz float64) bool {
	for _, o := range octaveNames {
		if o.hz == hz {
			return true
		}
	}
	return false
}

// single draws one curve, with marks at its octaves and their bounds as bars.
func single(c curve) drawing {
	d := drawing{Width: 86, Height: 50, Title: "Absorption of " + c.Label + " by octave: " + told(c)}
	a := axes{left: 8, top: 2, width: 76, height: 39, low: lowHz, high: highHz}
	a.grid(&d)
	var octaves []point
	for _, b := range c.Bounds {
		octaves = append(octaves, point{b.Hz, b.Alpha})
		x, low, high := a.x(b.Hz), a.y(b.Low), a.y(b.High)
		d.line(x, high, 0, low-high, heavy*0.8, "")
		d.line(x-1.1, high, 2.2, 0, heavy*0.8, "")
		d.line(x-1.1, low, 2.2, 0, heavy*0.8, "")
	}
	a.draw(&d, c, manners[0], octaves)
	return d
}

// told says the curve in words.
func told(c curve) string {
	var list []string
	for _, b := range c.Bounds {
		list = append(list, fmt.Sprintf("%s Hz %.2f (%.2f to %.2f)", number(b.Hz), b.Alpha, b.Low, b.High))
	}
	return strings.Join(list, ", ")
}

// together draws up to as many curves as there are manners in one picture, each with its name at its right end.
func together(curves []curve) drawing {
	d := drawing{Width: 180, Height: 92, Title: "Absorption of the options by frequency"}
	a := axes{left: 8, top: 2, width: 96, height: 80, low: lowHz, high: highHz}
	a.grid(&d)
	type label struct {
		curve  int
		end, y mm
	}
	var labels []label
	for i, c := range curves {
		if len(c.Points) == 0 {
			continue
		}
		a.draw(&d, c, manners[i], slices.DeleteFunc(slices.Clone(c.Points), func(p point) bool { return !isOctave(p.Hz) }))
		y := a.y(c.Points[len(c.Points)-1].Alpha)
		labels = append(labels, label{i, y, y})
	}
	slices.SortStableFunc(labels, func(p, q label) int { return cmp.Compare(p.end, q.end) })
	ends := make([]mm, len(labels))
	for i, l := range labels {
		ends[i] = l.end
	}
	for i, y := range spread(ends, labelStep, a.top+letters, a.top+a.height-letters) {
		labels[i].y = y
	}
	right := a.left + a.width
	for _, l := range labels {
		c, m := curves[l.curve], manners[l.curve]
		from := a.x(c.Points[len(c.Points)-1].Hz)
		d.path(fmt.Sprintf("M%s %sL%s %sL%s %s", from+1.4, l.end, right+2, l.y, right+3, l.y), thin, "", nought)
		d.path(fmt.Sprintf("M%s %sh9", right+3.6, l.y), heavy, m.dash, nought)
		path, fill := m.mark(right+8.1, l.y)
		d.path(path, 0.3, "", fill)
		d.bold(right+14, l.y+letters*0.36, "start", shortened(c.Label, letters, d.Width-right-14))
		d.text(right+14, l.y+letters*1.6, "start", shortened(c.Under, letters, d.Width-right-14))
	}
	return d
}

// labelStep is how far names of two lines stand apart at least.
const labelStep mm = 8

// spread moves places, which rise, as little as is simple so that they stand a step apart between two ends.
func spread(places []mm, step, top, bottom mm) []mm {
	out := slices.Clone(places)
	for i := range out {
		out[i] = max(out[i], top)
		if i > 0 {
			out[i] = max(out[i], out[i-1]+step)
		}
	}
	for i := len(out) - 1; i >= 0; i-- {
		out[i] = min(out[i], bottom-mm(len(out)-1-i)*step)
	}
	return out
}

// number writes a number with as many places as it has.
func number(x float64) string { return strconv.FormatFloat(x, 'f', -1, 64) }

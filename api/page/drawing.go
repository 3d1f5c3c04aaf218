package page

import (
	"math"
	"strconv"
	"strings"
	"unicode"
)

// mm is a length on paper, or a place on it.
type mm float64

// String writes at most two places, which is finer than any printer.
func (x mm) String() string {
	return strconv.FormatFloat(math.Round(float64(x)*100)/100, 'f', -1, 64)
}

// drawing is a picture of a size on paper, made of shapes in the order in which they are laid.
type drawing struct {
	Width, Height mm
	Title         string // for those who cannot see it
	Shapes        []shape
}

// shape is one shape; Kind says which of the other members it has.
type shape struct {
	Kind       string // line, rect, path, text
	X, Y, W, H mm     // of a line W and H are how far its end lies from its beginning
	Path       string
	Stroke     mm // width of the line
	Dash       string
	Fill       string
	Text       string
	Size       mm     // of the letters
	Anchor     string // start, middle, end
	Weight     string
	Turned     bool // reads upward
}

// What lines and letters are at least, so that they are legible in print. Convention.
const (
	thin    mm = 0.2
	heavy   mm = 0.5
	letters mm = 2.5 // 7 pt
)

// The greys, which copy well. Convention.
const (
	ink    = "#000"
	pale   = "#e4e4e4"
	paler  = "#f4f4f4"
	nought = "none"
	paper  = "#fff"
)

func (d *drawing) line(x, y, w, h, stroke mm, dash string) {
	d.Shapes = append(d.Shapes, shape{Kind: "line", X: x, Y: y, W: w, H: h, Stroke: stroke, Dash: dash})
}

func (d *drawing) rect(x, y, w, h mm, fill string) {
	d.Shapes = append(d.Shapes, shape{Kind: "rect", X: x, Y: y, W: w, H: h, Stroke: thin, Fill: fill})
}

func (d *drawing) path(path string, stroke mm, dash, fill string) {
	d.Shapes = append(d.Shapes, shape{Kind: "path", Path: path, Stroke: stroke, Dash: dash, Fill: fill})
}

func (d *drawing) text(x, y mm, anchor, text string) {
	d.Shapes = append(d.Shapes, shape{Kind: "text", X: x, Y: y, Text: text, Size: letters, Anchor: anchor, Weight: "normal"})
}

func (d *drawing) bold(x, y mm, anchor, text string) {
	d.text(x, y, anchor, text)
	d.Shapes[len(d.Shapes)-1].Weight = "bold"
}

func (d *drawing) upward(x, y mm, text string) {
	d.text(x, y, "middle", text)
	d.Shapes[len(d.Shapes)-1].Turned = true
}

// dimension writes a measure into a rectangle, lengthways, upward or in two lines,
// wherever there is room for it, and says whether there was.
func (d *drawing) dimension(x, y, w, h mm, text string) bool {
	switch long := widthOf(text, letters) + 0.6; {
	case long <= w && letters <= h:
		d.text(x+w/2, y+h/2+letters*0.36, "middle", text)
	case long <= h && letters <= w:
		d.upward(x+w/2+letters*0.36, y+h/2, text)
	default:
		first, second, two := strings.Cut(text, " × ")
		if !two || max(widthOf(first+" ×", letters), widthOf(second, letters)) > w || 2.6*letters > h {
			return false
		}
		d.text(x+w/2, y+h/2-letters*0.3, "middle", first+" ×")
		d.text(x+w/2, y+h/2+letters, "middle", second)
	}
	return true
}

// widthOf is about how wide a text is at most in a common sans-serif, some of which are wide, bold ones too. Widths of letters
// for their size: a convention, held against a browser by a test.
func widthOf(text string, size mm) mm {
	sum := mm(0)
	for _, r := range text {
		switch {
		case r > 0x2fff, strings.ContainsRune("MWmw@%…", r): // also signs of the East and pictures
			sum += 1.12
		case strings.ContainsRune(" ilIj.,:;'|!()[]-ftr", r):
			sum += 0.5
		case r < 0x250 && !unicode.IsUpper(r):
			sum += 0.72
		default:
			sum += 0.9
		}
	}
	return sum * size
}

// shortened cuts a text so that it fits into a width.
func shortened(text string, size, width mm) string {
	if widthOf(text, size) <= width {
		return text
	}
	runes := []rune(text)
	for len(runes) > 1 && widthOf(string(runes)+"…", size) > width {
		runes = runes[:len(runes)-1]
	}
	return strings.TrimRight(string(runes), " ,(") + "…"
}

// scale is how many millimetres one on paper stands for.
type scale float64

// scales are what a ruler or a head can read.
var scales = []scale{1, 2, 5, 10, 15, 20, 25, 30, 40, 50, 75, 100, 150, 200, 250, 300, 400, 500, 750, 1000}

// scaleFor is the largest usual scale at which a length fits on so much paper.
func scaleFor(length float64, on mm) scale {
	for _, s := range scales {
		if s.of(length) <= on {
			return s
		}
	}
	return scale(math.Ceil(length / float64(on)))
}

func (s scale) of(length float64) mm { return mm(length / float64(s)) }

func (s scale) String() string { return "1 : " + strconv.FormatFloat(float64(s), 'f', -1, 64) }

package ratings

import "sabinbook/internal/bands"

// Kind names a rating in a Note.
type Kind string

// The ratings.
const (
	KindPractical Kind = "practical"
	KindWeighted  Kind = "weighted"
	KindNRC       Kind = "nrc"
	KindSAA       Kind = "saa"
)

// Code says what a Note is about.
type Code string

// The codes.
const (
	// BandsMissing: the rating is absent, or incomplete if practical, for want of the named bands.
	BandsMissing Code = "bands_missing"
	// ValuesUnusable: the values of the named bands are no coefficients and count as missing.
	ValuesUnusable Code = "values_unusable"
	// SAANeedsThirds: there is no SAA of octave values.
	SAANeedsThirds Code = "saa_needs_thirds"
	// WeightedFromOctavesIsCustomary: the standard rates thirds; the result is an estimate.
	WeightedFromOctavesIsCustomary Code = "weighted_from_octaves_is_customary"
	// NRCFromOctavesIsCustomary: the standard takes third-octave values.
	NRCFromOctavesIsCustomary Code = "nrc_from_octaves_is_customary"
	// IndicatorAdvisesFullCurve: with a shape indicator the standard advises to look at the curve too.
	IndicatorAdvisesFullCurve Code = "indicator_advises_full_curve"
	// NoIndicatorWhenUnclassified: no shape indicator was formed because the result has no class.
	NoIndicatorWhenUnclassified Code = "no_indicator_when_unclassified"
)

// Note is a remark on a rating: why it is absent, or what it rests on.
type Note struct {
	Code   Code
	Rating Kind         // empty when it concerns all of them
	Bands  []bands.Band // the bands that it is about, if any
}

// Rating is everything that can be said of one curve in single numbers.
type Rating struct {
	Practical Practical
	Weighted  *Weighted   // nil when it cannot be had; a note says why
	NRC       *Hundredths // nil when it cannot be had; a note says why
	SAA       *Hundredths // nil when it cannot be had; a note says why
	Notes     []Note
}

// Rate returns all ratings of c. What cannot be had is absent and has a note; what is
// only customary has one too. Notes come in a fixed order.
func Rate(c bands.Curve) Rating {
	r := Rating{Practical: PracticalOf(c)}
	note := func(code Code, about Kind, of ...bands.Band) {
		r.Notes = append(r.Notes, Note{Code: code, Rating: about, Bands: of})
	}
	absent := func(about Kind, needed []bands.Band) {
		if _, missing := sum(c, needed); len(missing) > 0 {
			note(BandsMissing, about, missing...)
		}
	}
	octaves := c.Basis == bands.Octave

	if bad := unusable(c); len(bad) > 0 {
		note(ValuesUnusable, "", bad...)
	}
	absent(KindPractical, practicalBands(c, 0))

	if w, ok := r.Practical.Weighted(); ok {
		r.Weighted = &w
		switch {
		case w.Class == NotClassified:
			note(NoIndicatorWhenUnclassified, KindWeighted)
		case w.Indicators != "":
			note(IndicatorAdvisesFullCurve, KindWeighted)
		}
		if octaves {
			note(WeightedFromOctavesIsCustomary, KindWeighted)
		}
	} else {
		absent(KindWeighted, practicalBands(c, 1))
	}

	if nrc, ok := NRC(c); ok {
		r.NRC = &nrc
		if octaves {
			note(NRCFromOctavesIsCustomary, KindNRC)
		}
	} else {
		absent(KindNRC, nrcBands)
	}

	if saa, ok := SAA(c); ok {
		r.SAA = &saa
	} else if octaves {
		note(SAANeedsThirds, KindSAA)
	} else {
		absent(KindSAA, saaBands())
	}
	return r
}

// practicalBands lists the bands that practical coefficients from octave first upwards need.
func practicalBands(c bands.Curve, first int) []bands.Band {
	var of []bands.Band
	for i := first; i < bands.OctaveCount; i++ {
		of = append(of, octaveBands(c, i)...)
	}
	return of
}

// unusable lists the bands whose value is known but no coefficient.
func unusable(c bands.Curve) []bands.Band {
	var bad []bands.Band
	for _, b := range c.Basis.Bands() {
		_, known := c.At(b)
		if _, ok := micros(c, b); known && !ok {
			bad = append(bad, b)
		}
	}
	return bad
}

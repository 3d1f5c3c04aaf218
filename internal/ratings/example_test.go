package ratings_test

import (
	"fmt"

	"sabinbook/internal/bands"
	"sabinbook/internal/ratings"
)

// ISO 11654:1997 Annex A, example A.1, read second hand: 0.60, class C, shift 0.40,
// sum 0.05. The standard leaves 125 Hz out; 0.10 stands in for it here.
func ExamplePractical_Weighted() {
	c := bands.OctaveCurve([6]float64{0.10, 0.35, 0.70, 0.65, 0.60, 0.55})
	w, _ := ratings.PracticalOf(c).Weighted()
	fmt.Println(w, w.Class, w.Shift, w.UnfavourableSum)
	// Output: 0.60 C 0.40 0.05
}

// ISO 11654:1997 Annex A, example A.2, read second hand: 500 Hz raised to 1.00 earns an M.
func ExamplePractical_Weighted_indicator() {
	c := bands.OctaveCurve([6]float64{0.10, 0.35, 1.00, 0.65, 0.60, 0.55})
	w, _ := ratings.PracticalOf(c).Weighted()
	fmt.Println(w, w.Class, w.Shift, w.UnfavourableSum)
	// Output: 0.60(M) C 0.40 0.05
}

// The two ties that ASTM C423-17 itself rounds, in quotation: 0.625 and 0.675.
func ExampleNRC() {
	for _, mean := range []float64{0.625, 0.675} {
		nrc, _ := ratings.NRC(bands.OctaveCurve([6]float64{0, mean, mean, mean, mean, 0}))
		fmt.Println(nrc)
	}
	// Output:
	// 0.65
	// 0.70
}

func ExampleRate() {
	r := ratings.Rate(bands.OctaveCurve([6]float64{0.19, 0.74, 1.17, 1.11, 1.01, 1.01}))
	fmt.Println(r.Weighted, *r.NRC, r.SAA == nil)
	for _, n := range r.Notes {
		fmt.Println(n.Code, n.Rating)
	}
	// Output:
	// 1.00 1.00 true
	// weighted_from_octaves_is_customary weighted
	// nrc_from_octaves_is_customary nrc
	// saa_needs_thirds saa
}

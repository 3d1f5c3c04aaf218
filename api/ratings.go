package api

import (
	"context"
	"fmt"

	"github.com/oapi-codegen/runtime"

	"sabinbook/internal/bands"
	"sabinbook/internal/catalog"
	"sabinbook/internal/ratings"
)

// RateCurve answers POST /v1/ratings.
func (s *Server) RateCurve(_ context.Context, in RateCurveRequestObject) (RateCurveResponseObject, error) {
	curve, err := decodeCurve(*in.Body)
	if err != nil {
		return nil, err
	}
	rating := ratings.Rate(curve)
	r := encodeRatings(rating)
	return RateCurve200JSONResponse{RatingsAnswerJSONResponse{Body: Ratings{Inputs: *in.Body, Practical: encodePractical(rating.Practical),
		Weighted: r.Weighted, Nrc: r.Nrc, Saa: r.Saa, Notes: r.Notes}}}, nil
}

// decodeCurve reads a curve that somebody asks about; the error names all faults.
func decodeCurve(w RatingsQuestion) (bands.Curve, error) {
	v := &catalog.Faults{}
	v.Word("/band_basis", w.BandBasis, []string{string(bands.ThirdOctave), string(bands.Octave)})
	c := decodeBands(v, "/bands", w.BandBasis, w.Bands)
	if c.Len() == 0 {
		v.Add("/bands", "required", "holds no coefficient", "give at least one, like alpha_500_hz")
	}
	for _, b := range bands.Thirds() {
		if a, ok := c.At(b); ok {
			v.Within(fmt.Sprintf("/bands/alpha_%d_hz", b.Nominal()), a, 0, ratings.Largest, "", "give the coefficient, e.g. 0.85, not per cent")
		}
	}
	return c, v.Err()
}

// checkRatings is the check of a curve that breaks the contract elsewhere.
func (s *Server) checkRatings(value any) []fault {
	var w RatingsQuestion
	if runtime.BindJSONValue(value, &w) != nil {
		return nil
	}
	_, err := decodeCurve(w)
	return faultsIn(err)
}

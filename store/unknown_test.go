package store_test

import (
	"context"
	"fmt"
	"slices"
	"testing"

	"sabinbook/internal/catalog"
	"sabinbook/internal/units"
	"sabinbook/store"
	"sabinbook/store/storetest"
)

// TestUnknownFiguresComeLast walks fills, every third of which has no airflow resistivity,
// page by page up and down.
func TestUnknownFiguresComeLast(t *testing.T) {
	storetest.Each(t, func(t *testing.T, s *store.Store) {
		filled(t, s)
		ctx := context.Background()
		for i := range 9 {
			f := samples().Fills[0]
			f.ID, f.Slug, f.Name, f.Resistivity = "", catalog.Slug(fmt.Sprintf("wool-%d", i)), fmt.Sprintf("Wool %d", i), nil
			if i%3 > 0 {
				f.Resistivity = &catalog.Figure[units.AirflowResistivity]{Value: units.AirflowResistivity(1000 * (i*7%10 + 1)), Evidence: catalog.Declared, SourceID: f.SourceID}
			}
			_, err := s.AddFill(ctx, "tester", f)
			must(t, err)
		}
		for _, down := range []bool{false, true} {
			q := catalog.Query{Limit: 2, Sort: []catalog.SortKey{{Field: "airflow_resistivity_pa_s_per_m2", Down: down}}}
			var known []float64
			unknown := 0
			for {
				page, err := s.Fills(ctx, q)
				must(t, err)
				for _, f := range page.Items {
					switch {
					case f.Resistivity == nil:
						unknown++
					case unknown > 0:
						t.Errorf("down %v: %s comes after unknown ones", down, f.Slug)
					default:
						known = append(known, float64(f.Resistivity.Value))
					}
				}
				if len(page.Next) == 0 {
					break
				}
				q.After = page.Next
			}
			if down {
				slices.Reverse(known)
			}
			if unknown < 3 || len(known) < 6 || !slices.IsSorted(known) {
				t.Errorf("down %v: %d unknown, %v", down, unknown, known)
			}
		}
	})
}

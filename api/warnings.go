package api

import (
	"fmt"

	"sabinbook/internal/absorber"
	"sabinbook/internal/absorption"
	"sabinbook/internal/bands"
	"sabinbook/internal/catalog"
)

// The words of absorption: bases, bounds, tests, covers and warnings.

const (
	basesText = "measured: a published test of the bare fill at this build (thickness within 3 mm, gap within 10 mm), under a fabric that by the model changes little. " +
		"adapted: one test of the same fill at another thickness or gap, or under a fabric that changes it, times the ratio of model values. " +
		"predicted: the model with an airflow resistivity that somebody measured or declared. estimated: the model with a resistivity worked out from density and fibre, good to a factor of two. " +
		"The model knows no edges and lies about 0.1 below laboratory curves, on which the first two rest: a small difference between two bases is no difference between materials."
	boundsText = "low and high: in 95 of 100 cases a laboratory would measure between them. They hold the scatter between laboratories or of published curves about this computation, " +
		"the stated ranges of resistivity and of the fabric's openness, and half of what the fabric changes. They do not hold how well a panel is built."
)

// estimateNotes say what the figures of an absorption estimate mean.
func estimateNotes(a absorption.Answer) []Note {
	notes := []Note{
		{Code: "bases", Text: basesText},
		{Code: "low_and_high", Text: boundsText},
	}
	for _, n := range a.Estimate.Warnings {
		if n.Code == string(absorber.FiniteSizeRunsHighAtLowBands) {
			notes = append(notes, Note{Code: "above_one", Text: "With a patch a coefficient is an area ratio and may exceed 1, as in a laboratory. Compare it with laboratory curves; rank by the endless front."})
		}
	}
	return append(notes,
		Note{Code: "rating_uncertainty", Text: "Two fills whose weighted coefficients differ by 0.05 cannot be told apart: measured ones are good to about 0.07, computed ones to less.",
			Value: place(0.07), Source: place("ISO 12999-2:2020, example figure, second hand")},
		Note{Code: "absorption_is_not_isolation", Text: isolationText},
		Note{Code: "local_rules_first", Text: localText})
}

// choiceNote says why a test was chosen.
func choiceNote(e absorption.Estimate) Note {
	c := e.Choice
	tests := fmt.Sprintf("The fill has %d tests", c.Tests)
	if c.Tests == 1 {
		tests = "The fill has 1 test"
	}
	if c.SetAside > 0 {
		tests += fmt.Sprintf(" (%d set aside)", c.SetAside)
	}
	chosen := "this one is nearest"
	if !c.Fits {
		chosen = "this one's model values are nearest"
	}
	if e.Test.Use == catalog.Preferred {
		chosen = "this one is preferred to others that fit as well (" + e.Test.UseNote + ")"
	}
	switch {
	case c.Fits && c.Eligible == 1:
		return Note{Code: "test_of_this_build", Text: tests + "; this one is of this thickness and gap."}
	case c.Fits:
		return Note{Code: "test_of_this_build", Text: fmt.Sprintf("%s, %d of this thickness and gap; %s.", tests, c.Eligible, chosen)}
	}
	n := Note{Code: "test_carried_over", Value: place(rounded(c.Distance, 4))}
	switch {
	case c.Eligible == 1:
		n.Text = tests + "; only this one can be carried over."
	case c.SameBacking:
		n.Text = fmt.Sprintf("%s, %d can be carried over; %s.", tests, c.Eligible, chosen)
	default:
		n.Text = fmt.Sprintf("%s, %d can be carried over; %s, though its backing is another.", tests, c.Eligible, chosen)
	}
	n.Text += fmt.Sprintf(" No octave of the bare build differs from it by more than %.2f, by the model.", c.Distance)
	return n
}

// coverWords say band by band what a cover does.
func coverWords(effects [bands.OctaveCount]absorption.Effect) string {
	says := map[absorption.Verdict]string{
		absorption.Helps: "it helps", absorption.Neutral: "it changes next to nothing", absorption.Reflects: "it starts to reflect and costs absorption"}
	text := "By the model, over this fill: "
	doubtful := false
	for from := 0; from < bands.OctaveCount; {
		word, _ := effects[from].Verdict()
		to := from
		for to < bands.OctaveCount {
			next, sure := effects[to].Verdict()
			if next != word {
				break
			}
			doubtful = doubtful || !sure
			to++
		}
		if from > 0 {
			text += "; "
		}
		text += fmt.Sprintf("%d", bands.OctaveBand(from).Nominal())
		if to-1 > from {
			text += fmt.Sprintf(" to %d", bands.OctaveBand(to-1).Nominal())
		}
		text += " Hz: " + says[word]
		from = to
	}
	text += "."
	if doubtful {
		text += " Where sure is false, the openness is not known well enough to say so for certain."
	}
	return text
}

// weaknesses are the warnings of an estimate, and which test it would rest on if that were not set aside.
func weaknesses(e absorption.Estimate) []Note {
	list := make([]Note, len(e.Warnings))
	for i, w := range e.Warnings {
		list[i] = warningNote(w)
	}
	if t := e.SetAside; t != nil {
		list = append(list, Note{Code: "test_set_aside", Text: fmt.Sprintf("The test %s would have been taken, but a curator has set it aside: %s", t.Slug, t.UseNote)})
	}
	return list
}

func warningNote(w absorption.Warning) Note {
	n := Note{Code: w.Code, Text: warningWords(w), Value: knownAs(w.Value, number), Low: knownAs(w.Low, number), High: knownAs(w.High, number)}
	if w.Layer >= 0 {
		n.LayerIndex = place(int64(w.Layer))
	}
	return n
}

// warningWords says what weakens an absorption.
func warningWords(w absorption.Warning) string {
	switch w.Code {
	case absorption.TestCapped:
		return "The table of the test prints no coefficient above 1.00; the specimen may have had more."
	case absorption.MountingFromTable:
		return "The test comes from a handbook table, which prints neither laboratory nor mounting; it is taken as the table's heading says."
	case absorption.DensityUntested:
		return "The density of the tested specimen or of the fill is not known; they were not compared."
	case absorption.OtherBacking:
		return "The test stood against a wall and these layers before air, or the reverse. Values that are carried over so scatter about twice as much."
	case absorption.RatioLimited:
		return fmt.Sprintf("In some band the ratio of model values left %g to %g and was limited: the test is far from these layers.", w.Low, w.High)
	case absorption.TestsLeftAside:
		return "There are tests of the fill, but none was made under the conditions or for the layers of the question; they are left aside."
	case absorption.BelowLaboratory:
		return fmt.Sprintf("Predicted for an endless panel; laboratory curves of the same material run about %.3f higher.", w.Value)
	case absorption.SpreadOfOtherConditions:
		return "No published curves were found under these conditions or of such layers; the bounds are those of bare fills in a diffuse field, and a guide only."
	case absorption.ResistivityEstimated:
		return fmt.Sprintf("The airflow resistivity of %.0f Pa s/m2 is estimated; it may be %.0f to %.0f.", w.Value, w.Low, w.High)
	case absorption.OpennessEstimated:
		if w.Low > 0 || w.High > 0 {
			return fmt.Sprintf("The openness of the fabric, %.0f Pa s/m, is derived or estimated, not measured; it may be %.0f to %.0f.", w.Value, w.Low, w.High)
		}
		return fmt.Sprintf("The openness of the fabric, %.0f Pa s/m, is derived or estimated, not measured.", w.Value)
	}
	return modelWords(w)
}

// modelWords says what leaves the validity of a formula of the model.
func modelWords(w absorption.Warning) string {
	switch absorber.WarningCode(w.Code) {
	case absorber.ResistivityOutsideRange:
		return fmt.Sprintf("The airflow resistivity of %.0f Pa s/m2 is outside %.0f to %.0f, where the model was tested.", w.Value, w.Low, w.High)
	case absorber.FrequencyRatioOutsideRange:
		return fmt.Sprintf("The ratio of frequency to airflow resistivity on which the model is built reaches %.3g, and the model was found between %g and %g: some bands are outside.", w.Value, w.Low, w.High)
	case absorber.ThermalLengthBelowViscous:
		return fmt.Sprintf("The thermal length of %g um is below the viscous length of %g um, which no pore has: they may be swapped.", w.Value, w.Low)
	case absorber.FabricMassUnknown:
		return fmt.Sprintf("The mass of the fabric is not known; %.2f kg/m2 is assumed.", w.Value)
	case absorber.OpenAreaOutsideRange:
		return fmt.Sprintf("The open area of %g is above %g, where the end correction of the holes ends.", w.Value, w.High)
	case absorber.LocalReactionDoubtful:
		layer := "a gap"
		if w.Value > 0 {
			layer = fmt.Sprintf("a fill of %.0f Pa s/m2", w.Value)
		}
		return fmt.Sprintf("Local reaction is right for partitioned cavities, and fair for fills above about %.0f Pa s/m2 without a gap; this layer is %s, and right only if it is partitioned.", w.Low, layer)
	case absorber.FiniteSizeRunsHighAtLowBands:
		return "A front of finite size is laboratory-like and too high at 125 Hz, above all with deep gaps."
	case absorber.BulkDensityOutsideRange:
		return fmt.Sprintf("The density of %g kg/m3 is outside %g to %g, where the relation to airflow resistivity was found.", w.Value, w.Low, w.High)
	case absorber.FibreDiameterOutsideRange:
		return fmt.Sprintf("The fibre diameter of %g um is outside %g to %g, where the relation to airflow resistivity was found.", w.Value, w.Low, w.High)
	case absorber.FibreDiameterAssumed:
		return fmt.Sprintf("The fibre diameter is not known; %g um, usual for the family, is assumed.", w.Value)
	}
	return testWords(w)
}

// testWords says what is doubtful about a test of openness or resistivity.
func testWords(w absorption.Warning) string {
	switch absorber.WarningCode(w.Code) {
	case absorber.UnusualTest:
		return fmt.Sprintf("A figure of the air permeability test, %g, is outside the usual %g to %g: check its unit.", w.Value, w.Low, w.High)
	case absorber.NegativeIntercept:
		return fmt.Sprintf("The two permeability tests give %.0f Pa s/m at low velocity, which is scatter: 0 is taken.", w.Value)
	case absorber.ResistanceFalls:
		return fmt.Sprintf("The resistance is %.0f Pa s/m at the lowest velocity of the air and %.0f at the highest, where it can only rise: the tests scatter, or something sticks or leaks.", w.High, w.Value)
	case absorber.WeaveEstimate:
		return fmt.Sprintf("The openness is estimated from the weave, within a factor of %g; yarns of staple fibre may be further off.", w.Value)
	case absorber.CoarseWeave:
		return fmt.Sprintf("The openings of the weave, %.0f um, are above %.0f um, where the estimate was 0.36 of the published value: expect more resistance.", w.Value, w.High)
	case absorber.FewRuns:
		return fmt.Sprintf("The runs of the piston test, counted: %.0f; %.0f or more show how far it scatters.", w.Value, w.Low)
	case absorber.SpreadUnknown:
		return fmt.Sprintf("The runs do not show how far the piston test scatters; a single run is taken to be good to %.0f per cent. Repeat each mass.", 100*w.Value)
	case absorber.NoEmptyRun:
		return "No run was made without the sample, so that nothing is taken off for the rig: the resistance is an upper bound."
	case absorber.RigDominates:
		return fmt.Sprintf("The rig itself takes %.0f per cent of a reading, more than %.0f. Use a larger opening, or a denser stack of samples.", 100*w.Value, 100*w.High)
	case absorber.FastTest:
		return fmt.Sprintf("The air moved at %.3f m/s in the slowest run; below %.2f m/s inertia would matter less. Use less mass, or a stack of samples.", w.Value, w.High)
	}
	return "See the code."
}

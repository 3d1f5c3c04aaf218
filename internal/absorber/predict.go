package absorber

import "sabinbook/internal/bands"

// WarningCode says why a prediction deserves less trust.
type WarningCode string

// The codes, with what Value, Low and High hold.
const (
	// ResistivityOutsideRange: resistivity of a fill, range of its model, Pa·s/m².
	ResistivityOutsideRange WarningCode = "resistivity_outside_range"
	// FrequencyRatioOutsideRange: the ratio of frequency to resistivity on which the model
	// is built, at the lowest or the highest band; range of the model.
	FrequencyRatioOutsideRange WarningCode = "frequency_ratio_outside_range"
	// ThermalLengthBelowViscous: thermal length and, in Low, viscous length, µm. A pore
	// cannot have that: the figures may be swapped.
	ThermalLengthBelowViscous WarningCode = "thermal_length_below_viscous"
	// FabricMassUnknown: the surface mass that was taken, kg/m².
	FabricMassUnknown WarningCode = "fabric_mass_unknown"
	// OpenAreaOutsideRange: open area of a perforated sheet, High its largest.
	OpenAreaOutsideRange WarningCode = "open_area_outside_range"
	// LocalReactionDoubtful: a fill under local reaction of a resistivity below Low, or any
	// with a gap behind, which is right only if fill and gap are partitioned; Value is the
	// resistivity, 0 for a gap.
	LocalReactionDoubtful WarningCode = "local_reaction_doubtful"
	// FiniteSizeRunsHighAtLowBands: coefficients of a patch are laboratory-like, too high
	// at 125 Hz.
	FiniteSizeRunsHighAtLowBands WarningCode = "finite_size_runs_high_at_low_bands"
)

// Warning is a limit that a prediction has left. Layer is the index from the room, -1 for
// the conditions.
type Warning struct {
	Code             WarningCode
	Layer            int
	Value, Low, High float64
}

// Prediction is the absorption of an assembly and what weakens it.
type Prediction struct {
	Thirds   bands.Curve // 0 to 1, above 1 only with a Patch
	Warnings []Warning   // in the order of the layers
}

// Octaves returns the six octaves, each the mean of its three thirds.
func (p Prediction) Octaves() bands.Curve { return p.Thirds.InOctaves() }

// Predict returns the absorption of layers, listed from the room to the wall, or an
// InvalidError.
func Predict(layers []Layer, c Conditions) (Prediction, error) {
	k, err := NewKernel(c)
	if err != nil {
		return Prediction{}, err
	}
	return k.Predict(layers)
}

// Predict returns Absorption of the layers with its warnings.
func (k *Kernel) Predict(layers []Layer) (Prediction, error) {
	curve, err := k.Absorption(layers)
	if err != nil {
		return Prediction{}, err
	}
	return Prediction{Thirds: curve, Warnings: k.Warnings(layers)}, nil
}

// minLocalSigma is the resistivity from which local reaction is fair without a gap (seen
// in a paper, second hand).
const minLocalSigma = 30_000

// Warnings lists what of the layers and conditions lies outside the validity of the
// formulas. The layers must be such that Absorption takes them.
func (k *Kernel) Warnings(layers []Layer) []Warning {
	var all []Warning
	for i, l := range layers {
		of := l.warnings(k.conditions.Air)
		if k.conditions.Reaction == Local {
			of = append(of, localWarnings(l)...)
		}
		for _, w := range of {
			w.Layer = i
			all = append(all, w)
		}
	}
	if k.conditions.Patch != (Patch{}) {
		all = append(all, Warning{Code: FiniteSizeRunsHighAtLowBands, Layer: -1})
	}
	return all
}

func localWarnings(l Layer) []Warning {
	doubtful := []Warning{{Code: LocalReactionDoubtful, Low: minLocalSigma}}
	switch l := l.(type) {
	case Gap:
		if l.Depth > 0 {
			return doubtful
		}
	case Fill:
		if l.Resistivity < minLocalSigma {
			doubtful[0].Value = float64(l.Resistivity)
			return doubtful
		}
	}
	return nil
}

package api

import (
	"fmt"

	"sabinbook/internal/reverb"
	"sabinbook/internal/rooms"
)

// encodeRoomQuestion writes the question as it was used, every default filled in.
func encodeRoomQuestion(q rooms.Question) RoomQuestion {
	w := RoomQuestion{
		Room:   &RoomShape{LengthM: knownAs(q.Sides[0], number), WidthM: knownAs(q.Sides[1], number), HeightM: knownAs(q.Sides[2], number), VolumeM3: knownAs(q.Volume, number)},
		Air:    &RoomAir{TemperatureC: &q.Air.Temperature, HumidityPercent: &q.Air.Humidity, PressureKpa: &q.Air.Pressure},
		Target: &RoomTarget{Rule: string(q.Rule), Group: known(q.Group), TimeS: knownAs(q.Time, number), FromHz: place(int64(q.From)), ToHz: place(int64(q.To))}, DecayTimes: encodeTimes(q.Measured),
	}
	surfaces, things := []RoomSurface{}, []RoomThing{}
	for _, s := range q.Surfaces {
		surfaces = append(surfaces, RoomSurface{Face: known(string(s.Face)), AreaM2: knownAs(s.Area, number), Material: known(s.Material), Alpha: encodeAlphas(s.Own)})
	}
	for _, t := range q.Things {
		things = append(things, RoomThing{Material: known(t.Material), Areas: encodeAreas(t.Own), Count: int64(t.Count)})
	}
	w.Surfaces, w.Things = &surfaces, &things
	if p := q.Placement; p != nil {
		w.Placement = &RoomPlacement{Source: exactPoint(p.Source), Listeners: listOf(&p.Listeners, exactPoint)}
	}
	return w
}

func encodeRoom(w RoomQuestion, q rooms.Question, a rooms.Answer) RoomEstimate {
	out := RoomEstimate{
		Inputs: encodeRoomQuestion(q), ModelVersion: rooms.ModelVersion, VolumeM3: rounded(a.Volume, 3), SurfaceM2: knownAs(rounded(a.Surface, 3), number),
		ConstantSPerM: rounded(a.Constant, 6), SpeedOfSoundMPerS: rounded(a.SpeedOfSound, 2), SchroederHz: rounded(a.Schroeder, 0), CriticalDistanceM: rounded(a.CriticalDistance, 2),
		TargetTimeS: rounded(a.Target, 3), RuleCoversRoom: a.WithinRule, Modes: []RoomMode{}, Reflections: []RoomReflection{}, LeastCount: int64(a.Least), Reached: a.Reached, RoomForCount: int64(a.Room),
		Notes: roomNotes(q, a),
	}
	if p := q.Panels; p != nil {
		panels := *w.Panels // sides are asked for, and their product is used
		panels.Count = place(int64(p.Count))
		out.Inputs.Panels = &panels
	}
	out.Octaves = encodeRoomOctaves(a)
	for _, m := range a.Modes {
		out.Modes = append(out.Modes, RoomMode{HalfWavesLengthCount: int64(m.X), HalfWavesWidthCount: int64(m.Y), HalfWavesHeightCount: int64(m.Z), FrequencyHz: rounded(m.Hertz, 1)})
	}
	for _, m := range a.Mirrors {
		out.Reflections = append(out.Reflections, RoomReflection{ListenerIndex: int64(m.Listener), Face: m.Wall, Point: encodePoint(m.Point), DirectPathM: rounded(m.Reflection.Direct, 3),
			ReflectedPathM: rounded(m.Reflection.Reflected, 3), DelayMs: rounded(1000*m.Delay, 2), LevelDB: rounded(m.Level, 1)})
	}
	return out
}

func encodeRoomOctaves(a rooms.Answer) []RoomOctave {
	var out []RoomOctave
	for _, o := range a.Octaves {
		out = append(out, RoomOctave{
			OctaveHz: int64(o.Hertz), AreaM2: rounded(o.Area, 3), AirAreaM2: rounded(o.AirArea, 3), Before: encodeDecay(o.Before), After: decayIf(o.After),
			AfterLowS: roundedIf(o.AfterLow), AfterHighS: roundedIf(o.AfterHigh), Asked: o.Asked,
			Target:        RoomOctaveTarget{TimeS: rounded(o.Target.Time, 3), LowS: rounded(o.Target.Low, 3), HighS: rounded(o.Target.High, 3)},
			LackingAreaM2: rounded(o.Lacking, 3), LeastCount: int64(o.Least), Reached: o.Reached, BelowSchroeder: o.BelowSchroeder,
		})
	}
	return out
}

// encodeInRoom is what an option does in the room of a ranking.
func encodeInRoom(a *rooms.Answer) *OptionInRoom {
	if a == nil {
		return nil
	}
	return &OptionInRoom{Octaves: encodeRoomOctaves(*a), LeastCount: int64(a.Least), Reached: a.Reached, RoomForCount: int64(a.Room)}
}

func roomQuestionIf(q *rooms.Question) *RoomQuestion {
	if q == nil {
		return nil
	}
	return place(encodeRoomQuestion(*q))
}

func exactPoint(p [3]float64) RoomPoint { return RoomPoint{XM: p[0], YM: p[1], ZM: p[2]} }

func encodeDecay(d rooms.Decay) RoomDecay {
	return RoomDecay{SabineS: rounded(d.Sabine, 3), EyringS: roundedIf(d.Eyring)}
}

func decayIf(d *rooms.Decay) *RoomDecay {
	if d == nil {
		return nil
	}
	return place(encodeDecay(*d))
}

func roundedIf(x *float64) *float64 {
	if x == nil {
		return nil
	}
	return place(rounded(*x, 3))
}

// roomNotes say what the figures mean, and what they cannot say.
func roomNotes(q rooms.Question, a rooms.Answer) []Note {
	notes := []Note{
		{Code: "absorption_is_not_isolation", Text: isolationText},
		{Code: "decay_times", Text: fmt.Sprintf("T = k V / (A + 4 m V) after Sabine, with k = 24 ln 10 / c = %.4f s/m and the absorption of air for pure tones at the exact centres of the octaves; after Eyring with -S ln(1 - A/S). They suppose sound and absorption spread evenly: what hangs on one wall works less. A spread of about 10 %% remains even in measured rooms, so read two digits.", a.Constant),
			Source: place("ISO 9613-1:1993 for air; W. C. Sabine and C. F. Eyring as handbooks give them")},
		{Code: "target_is_a_choice", Text: "The target is a choice, not a verdict: a rule for classrooms or studios does not judge a home."},
	}
	var low []string
	for _, o := range a.Octaves {
		if o.BelowSchroeder {
			low = append(low, fmt.Sprint(o.Hertz))
		}
	}
	if len(low) > 0 {
		notes = append(notes, Note{Code: "below_schroeder", Text: fmt.Sprintf("Octaves at %s Hz reach below the Schroeder frequency (%.0f Hz by the decay time at 500 Hz), where single modes of the room rule. There these figures are a guide only, and thin porous panels do little.", listed(low, "and"), a.Schroeder)})
	}
	if !a.WithinRule {
		notes = append(notes, Note{Code: "rule_is_for_other_sizes", Text: fmt.Sprintf("The rule is not given for rooms of %.0f m³.", a.Volume)})
	}
	switch q.Rule {
	case reverb.DIN:
		notes = append(notes, Note{Code: "din_18041_second_hand", Text: "DIN 18041:2016: lines of the groups seen in secondary sources; the tolerance by octave is from memory. The standard leaves out studios and control rooms."})
	case reverb.EBU:
		notes = append(notes, Note{Code: "ebu_tech_3276_second_hand", Text: "EBU Tech 3276 (1998): seen in secondary sources; the wider tolerance at 125 Hz is from memory."})
	case reverb.S1260:
		notes = append(notes, Note{Code: "ansi_s12_60_second_hand", Text: "ANSI/ASA S12.60, seen in secondary sources: an upper limit for empty furnished classrooms."})
	}
	if q.Panels == nil {
		return notes
	}
	var never []string
	for _, o := range a.Octaves {
		if o.Asked && !o.Reached {
			never = append(never, fmt.Sprint(o.Hertz))
		}
	}
	if len(never) > 0 {
		notes = append(notes, Note{Code: "panels_do_not_reach", Text: fmt.Sprintf("At %s Hz these panels do not reach the target, however many there is room for (%d). Thicker fill, more air behind it, or panels across corners would do more there.", listed(never, "and"), a.Room)})
	}
	return append(notes, Note{Code: "coefficients_of_laboratories", Text: "Coefficients of reverberation rooms count edges and suppose sound from everywhere; above 1.00 they count as 1.00 here."})
}

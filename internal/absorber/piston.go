package absorber

import (
	"cmp"
	"math"
	"slices"

	"sabinbook/internal/units"
)

// Piston is a home test of flow resistance: a piston sinks under its weight and pushes a
// volume of air through a sheet or a plug of fill, and somebody takes the time.
//
// With m the mass, A_p the area of the piston, V the volume, A_s the area of the sample and
// t the time, a run finds at the face velocity u = V/(A_s t)
//
//	R = (m g/A_p) t A_s/V
//
// less what the rig itself takes. Source: definition of flow resistance; a rig with a
// piston is common practice.
type Piston struct {
	PistonArea, SampleArea units.Area
	Volume                 float64 // m³ pushed through in each run
	Runs                   []Run   // with the sample
	EmptyRuns              []Run   // the same way without the sample; may be empty
}

// Run is one run of a Piston. Runs of the same mass are repeats.
type Run struct {
	Mass units.Mass // of the piston with its load
	Time float64    // s, for the volume
}

// gravity is the standard acceleration of free fall in m/s² (CGPM 1901, by definition).
const gravity = 9.80665

// The least uncertainty of a home test.
const (
	// runsWanted is the number of runs whose spread is the least uncertainty to state, and
	// runsNeeded the number below which there is no spread to speak of (the first from the
	// absorber model ground section 10, the second convention).
	runsWanted, runsNeeded = 5, 3
	// assumedShare is the half range where repeats show no spread (convention).
	assumedShare = 0.20
	// coverage is the half range in standard deviations: 95 of 100 where scatter is normal
	// (common practice).
	coverage = 2
	// rigShareHigh is the share of a reading above which the rig rather than the sample was
	// measured (convention).
	rigShareHigh = 0.5
	// fastVelocity is the largest face velocity in m/s of ASTM C522 (second hand). ISO 9053-1
	// has 0.5 to 4 mm/s (second hand).
	fastVelocity = 0.05
)

// Codes of warnings on a home test.
const (
	// FewRuns: number of runs with the sample, Low the number wanted.
	FewRuns WarningCode = "few_runs"
	// SpreadUnknown: the half range that was taken, as a share.
	SpreadUnknown WarningCode = "spread_unknown"
	// NoEmptyRun: all of the reading was laid to the sample, which is then found too dense.
	NoEmptyRun WarningCode = "no_empty_run"
	// RigDominates: the largest share of a reading that the rig itself took, High the limit.
	RigDominates WarningCode = "rig_dominates"
	// FastTest: the lowest face velocity in m/s, High the limit.
	FastTest WarningCode = "fast_test"
)

// Check returns an InvalidError for figures that cannot be computed with (limits by
// convention: only slips lie outside). A fault of an empty run has the same field name as
// that of a run.
func (p Piston) Check() error {
	err := first(
		within("piston_area", float64(p.PistonArea), 1e-5, 10),
		within("sample_area", float64(p.SampleArea), 1e-5, 10),
		within("volume", p.Volume, 1e-6, 10),
		within("runs", float64(len(p.Runs)), 1, 100),
		within("empty_runs", float64(len(p.EmptyRuns)), 0, 100),
	)
	for _, r := range slices.Concat(p.Runs, p.EmptyRuns) {
		err = first(err, within("mass", float64(r.Mass), 1e-4, 1000), within("time", r.Time, 0.01, 1e6))
	}
	return err
}

// Openness returns the flow resistance of the sample at low velocity.
//
// What is taken off. The rig loses pressure by friction, which is there at any velocity,
// and in its ducts, where the loss rises with velocity. An empty run is far faster than a
// run of the same mass with the sample, so its loss must be brought to the velocity of that
// run. From two or more empty masses it is the straight line of the loss over the velocity,
// which finds both kinds. From one mass it is that loss in proportion to the velocity: what
// is taken off is then the resistance of the empty run. That is too much where the loss
// rises faster than velocity and too little where it is friction, so twice its standard
// deviation is all of it (convention).
//
// Velocity zero. Runs of several masses are extrapolated by the straight line of R over u
// through the mean of each mass, which counts once for each run; a line that falls is
// scatter and becomes level. Single runs would bias the line: a time that is too long makes
// R too large and u too small at once. Runs of one mass are divided by 1 + q u with the q
// of OpennessByPermeability.
//
// Range. The spread of repeats is pooled over the masses, as a share of the time, and is at
// least what the means are off the line. With fewer than three runs or no repeats it is
// taken such that a single run is good to 20 % either way. The variance is the sum of: that
// of a single run; with several masses that of the end of the line, found by moving each
// time by its standard deviation, one after the other, so that it grows with how far the
// line is drawn beyond the runs; the same for the empty times, whose spread is their own or,
// without repeats, not below that of the runs and 10 %; and that of the empty run's kind of
// loss. The half range is two of its standard deviations, those of single runs and not of a
// mean, because leaks, friction and areas are the same in all runs; for these it is also at
// least readingShare.
//
// The error is one of Check, or names empty_runs if the rig took all of a reading, or runs
// if the line ends at 0 or below. Source: algebra of least squares and of the propagation
// of errors; what is marked is convention.
func (p Piston) Openness() (Openness, error) {
	if err := p.Check(); err != nil {
		return Openness{}, err
	}
	f := p.find()
	if !(f.lossShare < 1) {
		return Openness{}, &InvalidError{Layer: -1, Field: "empty_runs", Value: f.lossShare * f.pressure, High: f.pressure}
	}
	if !(f.resistance > 0) {
		return Openness{}, &InvalidError{Layer: -1, Field: "runs", Value: f.resistance, High: f.slow}
	}
	spread, known := p.spread()
	o := Openness{Method: OpennessFromPiston, Velocity: f.velocity, Warnings: p.warnings(f, spread, known)}
	half := max(coverage*math.Sqrt(p.variance(f, max(spread, f.misfit))), readingShare*f.resistance)
	value, low := units.AirflowResistance(f.resistance), units.AirflowResistance(f.resistance)
	if f.masses == 1 {
		low, value = linear(value, f.velocity, inertialShareHigh), linear(value, f.velocity, inertialShare)
	}
	o.Value = value
	o.Low = max(low-units.AirflowResistance(half), 0)
	o.High = units.AirflowResistance(f.resistance + half)
	return o, nil
}

// warnings lists what weakens the result.
func (p Piston) warnings(f found, spread float64, known bool) []Warning {
	var all []Warning
	warn := func(is bool, code WarningCode, value, low, high float64) {
		if is {
			all = append(all, Warning{Code: code, Layer: -1, Value: value, Low: low, High: high})
		}
	}
	warn(len(p.Runs) < runsWanted, FewRuns, float64(len(p.Runs)), runsWanted, 0)
	warn(!known, SpreadUnknown, coverage*spread, 0, 0)
	warn(len(p.EmptyRuns) == 0, NoEmptyRun, 0, 0, 0)
	warn(f.lossShare > rigShareHigh, RigDominates, f.lossShare, 0, rigShareHigh)
	warn(f.slow-f.fast > max(coverage*spread, readingShare)*f.reading, ResistanceFalls, f.fast, 0, f.slow)
	warn(f.velocity > fastVelocity, FastTest, f.velocity, 0, fastVelocity)
	return all
}

// spread returns the standard deviation of a single run as a share of its time, and false
// if the runs do not tell and it is assumed.
func (p Piston) spread() (float64, bool) {
	s, repeats := scatter(p.Runs)
	if len(p.Runs) < runsNeeded || repeats == 0 {
		return max(s, assumedShare/coverage), false
	}
	return s, true
}

// variance returns the variance of the resistance for runs of a spread.
func (p Piston) variance(f found, spread float64) float64 {
	square := func(v float64) float64 { return v * v }
	sum := square(spread * f.reading)
	for i, r := range p.Runs {
		if f.masses == 1 {
			break // the mean of one mass is surer than a single run
		}
		moved := p
		moved.Runs = slices.Clone(p.Runs)
		moved.Runs[i].Time = r.Time * (1 + spread)
		sum += square(moved.find().resistance - f.resistance)
	}
	empty, repeats := scatter(p.EmptyRuns)
	if repeats == 0 {
		empty = max(spread, assumedShare/coverage)
	}
	for i, r := range p.EmptyRuns {
		moved := p
		moved.EmptyRuns = slices.Clone(p.EmptyRuns)
		moved.EmptyRuns[i].Time = r.Time * (1 + empty)
		sum += square(moved.find().resistance - f.resistance)
	}
	if means := p.means(p.EmptyRuns); len(means) == 1 {
		sum += square(means[0].pressure / means[0].velocity / coverage)
	}
	return sum
}

// scatter returns the standard deviation of repeats as a share of the mean time of their
// mass, pooled over the masses, and by how many the runs exceed the masses.
func scatter(runs []Run) (share float64, repeats int) {
	for _, times := range byMass(runs) {
		usual := mean(times.seconds, nil)
		for _, t := range times.seconds {
			share += (t/usual - 1) * (t/usual - 1)
		}
		repeats += len(times.seconds) - 1
	}
	if repeats == 0 {
		return 0, 0
	}
	return math.Sqrt(share / float64(repeats)), repeats
}

// repeated holds the times of the runs of one mass.
type repeated struct {
	mass    units.Mass
	seconds []float64
}

// byMass returns the times by mass, the lightest first; the times of a mass in rising order,
// so that the order of the runs changes no digit.
func byMass(runs []Run) []repeated {
	sorted := slices.SortedFunc(slices.Values(runs), func(a, b Run) int {
		return cmp.Or(cmp.Compare(a.Mass, b.Mass), cmp.Compare(a.Time, b.Time))
	})
	var all []repeated
	for _, r := range sorted {
		if n := len(all); n == 0 || all[n-1].mass != r.Mass {
			all = append(all, repeated{mass: r.Mass})
		}
		last := &all[len(all)-1]
		last.seconds = append(last.seconds, r.Time)
	}
	return all
}

// meanRun is what the runs of one mass found on average.
type meanRun struct {
	pressure, velocity float64 // Pa, face velocity in m/s
	runs               float64
}

// means returns the mean run of each mass, the lightest first.
func (p Piston) means(runs []Run) []meanRun {
	var all []meanRun
	for _, r := range byMass(runs) {
		all = append(all, meanRun{
			pressure: float64(r.mass) * gravity / float64(p.PistonArea),
			velocity: p.Volume / (float64(p.SampleArea) * mean(r.seconds, nil)),
			runs:     float64(len(r.seconds)),
		})
	}
	return all
}

// rig returns the pressure that the rig itself takes, a + b u with neither part negative.
func (p Piston) rig() (a, b float64) {
	means := p.means(p.EmptyRuns)
	if len(means) == 0 {
		return 0, 0
	}
	var u, dp, weight []float64
	for _, m := range means {
		u, dp, weight = append(u, m.velocity), append(dp, m.pressure), append(weight, m.runs)
	}
	if len(means) > 1 {
		a, b = lineThrough(u, dp, weight)
		if !(b >= 0 && b <= math.MaxFloat64) {
			return mean(dp, weight), 0
		}
	}
	if len(means) == 1 || a < 0 {
		return 0, slopeThrough(u, dp, weight)
	}
	return a, b
}

// found is what the times give, without their spread.
type found struct {
	resistance float64 // of the sample at velocity zero; of the mean of one mass
	reading    float64 // mean resistance before the rig is taken off
	slow, fast float64 // resistance of the sample at the lowest and the highest velocity
	velocity   float64 // the lowest, m/s
	misfit     float64 // standard deviation of a single run by how far means are off the line, as a share
	masses     int
	lossShare  float64 // the largest share that the rig took, of a reading of that pressure
	pressure   float64
}

// find computes what the times give.
func (p Piston) find() found {
	means := p.means(p.Runs)
	slices.SortFunc(means, func(a, b meanRun) int { return cmp.Compare(a.velocity, b.velocity) })
	var u, r, reading, weight []float64
	f := found{masses: len(means), velocity: means[0].velocity}
	a, b := p.rig()
	for _, m := range means {
		loss := a + b*m.velocity
		u, weight = append(u, m.velocity), append(weight, m.runs)
		r, reading = append(r, (m.pressure-loss)/m.velocity), append(reading, m.pressure/m.velocity)
		if f.pressure == 0 || loss/m.pressure > f.lossShare {
			f.lossShare, f.pressure = loss/m.pressure, m.pressure
		}
	}
	f.slow, f.fast, f.reading = r[0], r[len(r)-1], mean(reading, weight)
	level, slope, parameters := mean(r, weight), 0.0, 1
	if f.masses > 1 {
		if l, s := lineThrough(u, r, weight); s > 0 && s <= math.MaxFloat64 {
			level, slope, parameters = l, s, 2
		}
	}
	f.resistance = level
	if free := f.masses - parameters; free > 0 {
		for i := range u {
			off := (r[i] - level - slope*u[i]) / reading[i]
			f.misfit += weight[i] * off * off
		}
		f.misfit = math.Sqrt(f.misfit / float64(free))
	}
	return f
}

// ResistivityMeasured is an airflow resistivity that a home test found.
type ResistivityMeasured struct {
	Value, Low, High units.AirflowResistivity // Low <= Value <= High
	Velocity         float64                  // as in Openness
	Warnings         []Warning                // Layer is -1
}

// Resistivity returns the airflow resistivity of a plug of fill of a thickness, R/d of
// Openness and of its bounds. It is that of the fill as it stood in the rig: a plug that was
// pressed to half its thickness is another material. The uncertainty of the thickness is not
// in the range. Source: definition (ISO 9053-1, second hand).
func (p Piston) Resistivity(thickness units.Length) (ResistivityMeasured, error) {
	if err := within("thickness", float64(thickness), 1, maxLength); err != nil {
		return ResistivityMeasured{}, err
	}
	o, err := p.Openness()
	if err != nil {
		return ResistivityMeasured{}, err
	}
	per := func(r units.AirflowResistance) units.AirflowResistivity {
		return units.AirflowResistivity(float64(r) / thickness.Metres())
	}
	return ResistivityMeasured{
		Value: per(o.Value), Low: per(o.Low), High: per(o.High),
		Velocity: o.Velocity, Warnings: o.Warnings,
	}, nil
}

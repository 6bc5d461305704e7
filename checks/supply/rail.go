package supply

import (
	"fmt"
	"math"
	"slices"

	"soakline/checks"
	"soakline/device"
)

// Record is one scope record of one rail.
type Record struct {
	// Volts are the samples, SampleIntervalSeconds apart. They are only read.
	Volts                 []float64
	SampleIntervalSeconds float64
}

// FromCapture returns the capture's samples as a record; they are not copied.
func FromCapture(c device.Capture) Record {
	return Record{Volts: c.Volts, SampleIntervalSeconds: c.SampleIntervalSeconds}
}

func (r Record) check() error {
	dt := r.SampleIntervalSeconds
	switch {
	case len(r.Volts) < 8:
		return fmt.Errorf("%w: it has %d samples, wanted 8 or more", ErrRecord, len(r.Volts))
	case !(dt > 0) || math.IsInf(dt, 0):
		return fmt.Errorf("%w: sample interval is %g s, must be above 0", ErrRecord, dt)
	}
	for i, v := range r.Volts {
		if math.IsNaN(v) || math.Abs(v) > 1e9 {
			return fmt.Errorf("%w: sample %d is %g V", ErrRecord, i, v)
		}
	}
	return nil
}

// Result is everything that a record says about a rail.
type Result struct {
	// DCVolts is the mean over whole cycles of the ripple, in the longest stretch
	// without a dip; ripple is measured there as well. Peak to peak and rms are of
	// each cycle; without a frequency, of all samples.
	DCVolts                               Measured
	RipplePeakToPeakVolts, RippleRMSVolts Measured
	// TroughVolts is the lowest of each cycle.
	TroughVolts Measured
	// RippleHertz is NaN where no frequency stands out. FullWave and HalfWave tell
	// what it says about the rectifier; neither where it does not come from the
	// mains.
	RippleHertz        Measured
	FullWave, HalfWave bool
	// Capacitance in farad and ESR in ohm are those of the reservoir behind the
	// ripple. Analyse leaves them not measured: the load is not known here.
	Capacitance, ESR Measured
	// Start is set where the record holds one. Step is left to those who know that
	// the load was switched: see AnalyseLoadStep.
	Start    *Start
	Step     *Step
	Dips     []Dip
	State    checks.State
	Findings []checks.Finding
}

// Add adds a finding that another package has made of the same record.
func (r *Result) Add(f checks.Finding) {
	r.Findings = append(r.Findings, f)
	if f.State == checks.Outside || f.State == checks.Borderline && r.State == checks.Within {
		r.State = f.State
	}
}

func (r *Result) find(code checks.FindingCode, state checks.State, args ...any) {
	r.Add(find(code, state, args...))
}

// Analyse measures a record of a rail. A negative rail is turned over for it and
// its DC level given with its sign. The options must be valid and the samples
// finite; a record that shows nothing gives findings.
func Analyse(record Record, o Options) (Result, error) {
	if err := o.Validate(); err != nil {
		return Result{}, fmt.Errorf("analyse rail: %w", err)
	}
	if err := record.check(); err != nil {
		return Result{}, fmt.Errorf("analyse rail: %w", err)
	}
	n := notMeasured()
	r := Result{
		DCVolts: n, RipplePeakToPeakVolts: n, RippleRMSVolts: n, TroughVolts: n, RippleHertz: n,
		Capacitance: n, ESR: n, State: checks.Within,
	}
	volts, sign := bySize(record.Volts)
	level := o.NominalVolts
	if level == 0 {
		level = quantile(volts, 0.5)
		if last := quantile(volts[len(volts)/2:], 0.5); last > level {
			level = last
		}
	}
	dt := record.SampleIntervalSeconds
	begin := 0
	if start, next, ok := findStart(volts, dt); ok && quantile(volts, 0.25) >= 0 {
		r.Start, begin = &start, next
	}
	steady := r.takeDips(volts, begin, dt, level, o)
	hertz, found := rippleHertz(steady, dt, o.MainsHertz)
	r.RippleHertz = Measured{Value: hertz, U: frequencyU(steady, dt, hertz)}
	r.ripple(steady, dt, hertz)
	r.judge(o, found, float64(len(steady))*dt)
	r.DCVolts.Value *= sign
	r.TroughVolts.Value *= sign
	return r, nil
}

// frequencyU is a tenth of what the length of the record resolves (common practice).
func frequencyU(v []float64, dt, hertz float64) float64 {
	if math.IsNaN(hertz) {
		return math.NaN()
	}
	return 0.1 / (float64(len(v)) * dt)
}

// bySize turns a negative rail over.
func bySize(v []float64) (size []float64, sign float64) {
	if quantile(v, 0.5) >= 0 {
		return v, 1
	}
	size = make([]float64, len(v))
	for i, x := range v {
		size[i] = -x
	}
	return size, -1
}

// takeDips finds the dips after the start and returns the longest stretch without.
// Where the sheet gives no low limit, the troughs of a large ripple are no dips: a
// dip goes clearly below them.
func (r *Result) takeDips(v []float64, begin int, dt, level float64, o Options) []float64 {
	v = v[begin:]
	if o.NominalVolts == 0 && quantile(v, 0.25) < 0 {
		return v // AC coupled: there is no level that could dip
	}
	low := o.Limits.LowVolts
	if low == 0 {
		usual, middle := usualTrough(v, dt), quantile(v, 0.5)
		low = brownOutShare * level
		if usual > dropoutShare*level && usual > 0.5*middle {
			low = min(low, usual-0.5*(middle-usual))
		}
	}
	steady, from := v[:0], 0
	longer := func(to int) {
		if to-from > len(steady) {
			steady = v[from:to]
		}
	}
	w := NewDipWatch(level, low, 0)
	wasOpen := false
	for i, x := range v {
		ended, ok := w.Observe(float64(begin+i)*dt, x)
		if ok {
			r.Dips = append(r.Dips, ended)
			from = i
		}
		if _, open := w.Now(); open && !wasOpen {
			longer(i)
		}
		_, wasOpen = w.Now()
	}
	if d, open := w.Now(); open {
		r.Dips = append(r.Dips, d)
	} else {
		longer(len(v))
	}
	if len(steady) < 8 {
		return v
	}
	return steady
}

// usualTrough is the lowest reading of a mains cycle as it mostly is: half the
// stretches of 25 ms go lower.
func usualTrough(v []float64, dt float64) float64 {
	each := int(min(max(1, 0.025/dt), float64(len(v))))
	var troughs []float64
	for from := 0; from+each <= len(v); from += each {
		troughs = append(troughs, slices.Min(v[from:from+each]))
	}
	return quantile(troughs, 0.5)
}

package video

import (
	"fmt"
	"math"
)

// analysis is what is known while one record is looked at.
type analysis struct {
	record  Record
	options Options
	scan    scan
	step    float64 // one code of the converter, 0 if not quantised
	depth   float64 // blanking above sync tip, in volts
	lines   []line
	period  float64 // of lines, in seconds
	nominal nominal
	// gates are the parts that are flat on every line, with the noise in them.
	gates []gate
	sigma float64 // rms noise of one sample
	flats []flat
	clip  clipping
	// result is filled as things become known.
	result Result
}

// Analyse measures a record and says what the figures mean. It returns an error,
// in which is ErrRecord, only for a record that can't be looked at: empty, one
// sample, not a number, no interval. A record without video is no error: all
// figures are NaN and a finding says no-sync.
func Analyse(record Record, options Options) (Result, error) {
	if err := record.check(); err != nil {
		return Result{}, fmt.Errorf("analyse video: %w", err)
	}
	if err := options.check(); err != nil {
		return Result{}, fmt.Errorf("analyse video: %w", err)
	}
	s, err := newScan(record)
	if err != nil {
		return Result{}, fmt.Errorf("analyse video: %w", err)
	}
	a := analysis{record: record, options: options, scan: s, result: newResult(), period: math.NaN()}
	a.result.Coupling = record.Coupling
	if options.Coupling != "" {
		a.result.Coupling = options.Coupling
	}
	a.step = record.StepVolts
	if a.step == 0 {
		a.step = stepOf(record.Volts)
	}
	a.clip = a.findClipping()
	if a.findLines() {
		a.measure()
	}
	a.diagnose()
	return a.result, nil
}

// measure fills in all figures of a record in which lines were found.
func (a *analysis) measure() {
	a.firstNoise()
	a.findBurst()
	a.findSystem()
	a.readGates()
	a.guessClipping()
	a.measureSync()
	a.findFlats()
	a.measureLevels()
	a.measureTones()
	a.measureEdges()
	a.measureNoise()
	a.measureTilt()
	a.measureHum()
}

// findLines finds line sync; ok is false if there is none, or only upside down.
func (a *analysis) findLines() (ok bool) {
	if a.scan.high <= a.scan.low {
		return false
	}
	c, ok := newSlicer(a.scan, false)
	if ok {
		ok = a.takeLines(c)
	}
	if ok {
		return true
	}
	if c, upsideDown := newSlicer(a.scan, true); upsideDown && a.takeLines(c) {
		a.find(codeInverted, outside)
		a.findSystem()
		a.result.BlankingVolts = notMeasured()
	}
	return false
}

// takeLines takes the lines that c cuts, if they are most of what the record has
// room for.
func (a *analysis) takeLines(c slicer) bool {
	all := c.pulses()
	pulses, period := linePulses(all)
	room := a.record.seconds() / (64 * microsecond)
	if len(pulses) == 0 || float64(len(pulses)) < 0.6*math.Floor(room) {
		return false
	}
	a.depth, a.period = c.depth, period
	a.lines = make([]line, len(pulses))
	for i, p := range pulses {
		if c.inverted {
			a.lines[i] = line{start: p.start, syncEnd: p.end, tip: math.NaN(), porch: math.NaN()}
			continue
		}
		a.lines[i] = a.refine(p)
	}
	a.result.LinesFound = len(a.lines)
	a.result.LinePeriodSeconds = linePeriod(a.lines, period, a.record.SampleIntervalSeconds)
	if a.result.LinePeriodSeconds.OK() {
		a.period = a.result.LinePeriodSeconds.Value
		a.result.LinesPerField = fieldLines(all, a.period)
	}
	a.result.LineStartSeconds = make([]float64, len(a.lines))
	var widths []float64
	for i, l := range a.lines {
		a.result.LineStartSeconds[i] = l.start
		if !math.IsNaN(l.syncEnd) {
			widths = append(widths, l.syncEnd-l.start)
		}
	}
	a.result.SyncWidthSeconds = meanOf(widths, a.record.SampleIntervalSeconds/math.Sqrt(12))
	return true
}

// findSystem settles which system it is, and with it where lines end.
func (a *analysis) findSystem() {
	r := &a.result
	r.System = systemOf(a.period, r.BurstHertz.Value)
	assumed := r.System
	if assumed == "" {
		assumed = a.options.System
	}
	a.nominal = nominalOf(assumed)
	period := a.period
	if math.IsNaN(period) {
		period = a.nominal.periods[0]
	}
	for i := range a.lines {
		a.lines[i].end = a.lines[i].start + period
		if i+1 < len(a.lines) && isPeriod(a.lines[i+1].start-a.lines[i].start, period) {
			a.lines[i].end = a.lines[i+1].start
		}
	}
}

// meanOf is the median-filtered mean of v with the uncertainty of the mean, at
// least u/sqrt(n); not measured if v is empty.
func meanOf(v []float64, u float64) Measured {
	if len(v) == 0 {
		return notMeasured()
	}
	m := Measured{Value: mean(v), U: u / math.Sqrt(float64(len(v)))}
	if len(v) >= 3 {
		m.U = math.Max(m.U, math.Sqrt(variance(v)/float64(len(v))))
	}
	return m
}

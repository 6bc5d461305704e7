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
	// guessed tells that period comes from where the record begins, not from edges.
	guessed bool
	// unseen tells that the first line's edge lies before the record.
	unseen  bool
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
	a.findClipping()
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

// findLines finds line sync; ok is false if there is none, or only upside down. A
// picture that is upside down may look like sync on some lines: where sync is missing
// from many, the record is turned over to see whether that shows more of it.
func (a *analysis) findLines() (ok bool) {
	if a.scan.high <= a.scan.low {
		return false
	}
	upright := a.cutLines(false)
	if upright.share() >= 0.9 {
		a.takeLines(upright)
		return true
	}
	if over := a.cutLines(true); over.share() > 1.1*upright.share() && over.share() > leastShare {
		a.takeLines(over)
		a.find(codeInverted, outside)
		a.findSystem()
		return false
	}
	if upright.share() < leastShare {
		return false
	}
	a.takeLines(upright)
	return true
}

// leastShare is the least share of the lines that a record has room for on which sync
// must be found; field blanking hides up to a tenth of them from records of a field.
const leastShare = 0.6

// cutting is what a slicer finds in the whole record.
type cutting struct {
	slicer slicer
	all    []stretch
	lines  []stretch
	period float64
	room   float64 // lines that fit into the record
}

// share of the lines that fit into the record on which sync was found.
func (c cutting) share() float64 {
	if len(c.lines) == 0 {
		return 0
	}
	// A record may begin and end within sync: one less is whole then.
	return float64(len(c.lines)) / math.Max(1, math.Floor(c.room-0.15))
}

func (a *analysis) cutLines(inverted bool) cutting {
	c := cutting{room: a.record.seconds() / (64 * microsecond)}
	var ok bool
	if c.slicer, ok = newSlicer(a.scan, inverted); ok {
		c.all = c.slicer.pulses()
		c.lines, c.period = linePulses(c.all)
	}
	return c
}

// takeLines takes the lines that were cut and measures their timing.
func (a *analysis) takeLines(c cutting) {
	a.depth, a.period = c.slicer.depth, c.period
	a.lines = make([]line, len(c.lines))
	tip := math.NaN()
	for i, p := range c.lines {
		if c.slicer.inverted {
			a.lines[i] = line{start: p.start, syncEnd: p.end, tip: math.NaN(), porch: math.NaN()}
			continue
		}
		begins := false
		a.lines[i], begins = a.refine(p, tip)
		tip = a.lines[i].tip
		a.guessed = a.guessed || p.cut && !begins
	}
	a.result.LinesFound = len(a.lines)
	// The edge of a pulse that the record begins within was not seen.
	a.unseen = a.guessed
	whole := a.lines
	if a.guessed {
		whole = whole[1:]
	}
	a.result.LinePeriodSeconds = linePeriod(whole, c.period, a.record.SampleIntervalSeconds)
	if a.result.LinePeriodSeconds.OK() {
		a.period = a.result.LinePeriodSeconds.Value
		a.guessed = false
		a.result.LinesPerField = fieldLines(c.all, a.period)
	}
	a.result.LineStartSeconds = make([]float64, len(a.lines))
	for i, l := range a.lines {
		a.result.LineStartSeconds[i] = l.start
	}
	var widths []float64
	for _, l := range whole {
		if !math.IsNaN(l.syncEnd) {
			widths = append(widths, l.syncEnd-l.start)
		}
	}
	a.result.SyncWidthSeconds = meanOf(widths, a.record.SampleIntervalSeconds/math.Sqrt(12))
}

// findSystem settles which system it is, and with it where lines end.
func (a *analysis) findSystem() {
	r := &a.result
	period := a.period
	if a.guessed && r.BurstHertz.OK() {
		period = math.NaN()
	}
	r.System = systemOf(period, r.BurstHertz.Value)
	assumed := r.System
	if assumed == "" {
		assumed = a.options.System
	}
	a.nominal = nominalOf(assumed)
	if math.IsNaN(period) {
		period = a.nominal.periods[0]
	}
	if a.unseen && len(a.lines) > 1 {
		a.lines[0].start = a.lines[1].start - period
		r.LineStartSeconds[0] = a.lines[0].start
	}
	for i := range a.lines {
		a.lines[i].end = a.lines[i].start + period
		if i+1 < len(a.lines) && isPeriod(a.lines[i+1].start-a.lines[i].start, period) {
			a.lines[i].end = a.lines[i+1].start
		}
	}
}

// meanOf is the mean of v with the uncertainty of the mean, at
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

package video

import (
	"errors"
	"fmt"
	"math"

	"soakline/checks"
)

// Shot is one of several short records of the same signal.
type Shot struct {
	Record Record
	// StartSeconds is when its first sample was taken, on a clock common to all; a
	// millisecond is close enough for hum.
	StartSeconds float64
}

// Series is what several short records say together.
type Series struct {
	// Each is the result of every record, in their order.
	Each []Result
	// HumVolts is the peak-to-peak wander of blanking at HumHertz over the series.
	HumVolts Measured
	HumHertz float64
	// Findings are about the series as a whole: hum, or nothing.
	Findings []checks.Finding
}

// AnalyseSeries analyses records of the same signal that were taken one after
// another, in the order of their starts, and fits mains hum to how blanking differs
// between them: one line is too short to show it. All settings must be the same for
// all records. It fails if a record does, or if starts do not increase.
func AnalyseSeries(shots []Shot, options Options) (Series, error) {
	s := Series{HumVolts: notMeasured(), HumHertz: math.NaN()}
	if len(shots) == 0 {
		return s, fmt.Errorf("analyse video series: %w: it is empty", ErrRecord)
	}
	var at, blanking []float64
	last := math.Inf(-1)
	for i, shot := range shots {
		if !(shot.StartSeconds > last) || math.IsInf(shot.StartSeconds, 0) {
			return s, fmt.Errorf("analyse video series: record %d: %w", i+1, errOrder)
		}
		last = shot.StartSeconds
		r, err := Analyse(shot.Record, options)
		if err != nil {
			return s, fmt.Errorf("record %d of the series: %w", i+1, err)
		}
		s.Each = append(s.Each, r)
		if r.BlankingVolts.OK() && len(r.blankings) > 0 {
			at = append(at, shot.StartSeconds+mean(r.blankingAt))
			blanking = append(blanking, mean(r.blankings))
		}
	}
	s.HumVolts, s.HumHertz = humOf(at, blanking, options.MainsHertz)
	whole := analysis{options: options, result: Result{HumVolts: s.HumVolts, HumHertz: s.HumHertz}}
	whole.diagnoseHum()
	s.Findings = whole.result.Findings
	return s, nil
}

var errOrder = errors.New("it does not begin after the one before")

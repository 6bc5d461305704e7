package logger

import (
	"cmp"
	"math"
	"slices"
	"time"

	"soakline/checks"
	"soakline/checks/capability"
)

// Spread is how one check of a console lies over the units of a line: one figure
// for each unit, the mean over its latest soak in the time, else what its latest
// final test measured.
type Spread struct {
	Console checks.ConsoleName
	Check   checks.CheckKey
	// Sheet and Limit are those of the latest test.
	Sheet string
	Limit checks.Limit
	capability.Indices
	// Suggested is a limit from the spread of the good units, those whose latest
	// test passed; nil for too few of them.
	Suggested *Suggestion
}

// Suggestion is a limit that would hold a share of all good units. It is a proposal
// to look at: nothing is ever changed by it.
type Suggestion struct {
	Good                 int
	Coverage, Confidence float64
	// Low and High are open where the present limit is.
	Low, Nominal, High float64
}

// suggestedCoverage is the share of good units that a suggested limit should hold.
const suggestedCoverage = 0.99

// spreadKey tells spreads apart.
type spreadKey struct {
	console checks.ConsoleName
	check   checks.CheckKey
}

// gathered are the figures of one spread.
type gathered struct {
	all, good []float64
	latest    time.Time
	limit     checks.Limit
	sheet     string
}

// spreads works out the spread of every check, by console, test point and measure.
func spreads(histories []unitHistory, within func(time.Time) bool, parse func(string, []byte) (checks.Sheet, error)) ([]Spread, error) {
	found := map[spreadKey]*gathered{}
	for _, h := range histories {
		if err := h.spread(found, within, parse); err != nil {
			return nil, err
		}
	}
	var all []Spread
	for key, g := range found {
		s := Spread{Console: key.console, Check: key.check, Sheet: g.sheet, Limit: g.limit,
			Indices: capability.Index(g.all, g.limit.Low, g.limit.High, LineConfidence)}
		s.Suggested = suggest(g)
		all = append(all, s)
	}
	slices.SortFunc(all, func(a, b Spread) int {
		return cmp.Or(cmp.Compare(a.Console, b.Console), cmp.Compare(a.Check.TestPoint, b.Check.TestPoint), cmp.Compare(a.Check.Measure, b.Check.Measure))
	})
	return all, nil
}

// spread adds a unit's figures, its latest test first.
func (h unitHistory) spread(found map[spreadKey]*gathered, within func(time.Time) bool, parse func(string, []byte) (checks.Sheet, error)) error {
	seen := map[checks.CheckKey]bool{}
	good := false
	latest := true
	for i := len(h.tests) - 1; i >= 0; i-- {
		test := h.tests[i]
		if !within(test.given) {
			continue
		}
		if latest {
			good, latest = test.outcome == checks.Pass, false
		}
		sheet, figures, err := test.figures(parse)
		if err != nil {
			return err
		}
		for key, figure := range figures {
			if seen[key] || math.IsNaN(figure) {
				continue
			}
			seen[key] = true
			g := found[spreadKey{h.console, key}]
			if g == nil {
				g = &gathered{}
				found[spreadKey{h.console, key}] = g
			}
			g.add(figure, good, test.given, sheet, key)
		}
	}
	return nil
}

// figures are what a test found at each check, and the sheet it was judged by.
func (t unitTest) figures(parse func(string, []byte) (checks.Sheet, error)) (checks.Sheet, map[checks.CheckKey]float64, error) {
	figures := map[checks.CheckKey]float64{}
	kept := t.sheet()
	sheet, err := parse(kept.Name, kept.Text)
	for _, result := range t.verdict.Checks {
		if result.Readings > 0 {
			figures[result.Check] = result.Mean
		}
	}
	for _, step := range t.finalVerdict.Steps {
		for _, f := range step.Figures {
			figures[f.Check] = f.Figure
		}
	}
	return sheet, figures, err
}

// add takes in a unit's figure; the limit is that of the latest test.
func (g *gathered) add(figure float64, good bool, at time.Time, sheet checks.Sheet, key checks.CheckKey) {
	g.all = append(g.all, figure)
	if good {
		g.good = append(g.good, figure)
	}
	if at.Before(g.latest) && !g.latest.IsZero() {
		return
	}
	g.latest, g.sheet = at, sheet.Name
	g.limit = checks.Limit{Low: math.Inf(-1), High: math.Inf(1), Nominal: math.NaN()}
	for _, point := range sheet.TestPoints {
		for _, check := range point.Checks {
			if point.Name == key.TestPoint && check.Measure == key.Measure {
				g.limit = check.Limit
			}
		}
	}
}

// suggest works out a limit from the good units' spread.
func suggest(g *gathered) *Suggestion {
	x := capability.Index(g.good, math.Inf(-1), math.Inf(1), LineConfidence)
	low, high := !math.IsInf(g.limit.Low, 0), !math.IsInf(g.limit.High, 0)
	if x.N < capability.FewestUnits || !(x.SD > 0) || !low && !high {
		return nil
	}
	s := &Suggestion{Good: x.N, Coverage: suggestedCoverage, Confidence: LineConfidence, Low: math.Inf(-1), Nominal: x.Mean, High: math.Inf(1)}
	k := capability.OneSidedFactor(x.N, suggestedCoverage, LineConfidence)
	if low && high {
		k = capability.ToleranceFactor(x.N, suggestedCoverage, LineConfidence)
	}
	if low {
		s.Low = x.Mean - k*x.SD
	}
	if high {
		s.High = x.Mean + k*x.SD
	}
	return s
}

package logger

import (
	"cmp"
	"context"
	"errors"
	"math"
	"slices"
	"time"

	"soakline/checks"
	"soakline/checks/capability"
	"soakline/logger/book"
)

// Line is how a line of units has fared over some time.
type Line struct {
	Since, Until time.Time
	// Units are those whose first verdict was given in that time. Of them, Passed
	// were right the first time: the first verdict on a soak and the first on a final
	// test, as far as they had one, were a pass. Failed and Undecided are the others,
	// and PassedLater those among these that have passed since.
	Units, Passed, Failed, Undecided, PassedLater int
	Yield                                         float64
	YieldInterval                                 capability.Interval
	// Fails are the checks and steps that failed in that time, the most frequent
	// first; Diagnoses are what the records of failing units said.
	Fails     []FailCount
	Diagnoses []FailCount
	// RolledYield is the yield that these fails would give if they were independent.
	RolledYield float64
	Spreads     []Spread
	Soaks       SoakTime
	Returned    []Return
}

// LineConfidence is the confidence level of a line's intervals.
const LineConfidence = 0.95

// FailCount is in how many units something failed.
type FailCount struct {
	Name  string
	Units int
}

// SoakTime is the time that units spent on a soak.
type SoakTime struct {
	Soaks, Units         int
	Total, MedianPerUnit time.Duration
}

// Return is a unit that had passed and was tested again.
type Return struct {
	Unit    checks.UnitID
	Console checks.ConsoleName
	// Passed is when it had its verdict, Again when the next test began, and Outcome
	// what that came to; empty while it has no verdict.
	Passed, Again time.Time
	Outcome       checks.Outcome
}

// LineOf works out the figures of a line from the verdicts of a book. Sheets are
// read with parse.
func LineOf(ctx context.Context, from *book.Book, since, until time.Time, parse func(name string, text []byte) (checks.Sheet, error)) (Line, error) {
	histories, err := unitHistories(ctx, from)
	if err != nil {
		return Line{}, err
	}
	parse = remembered(parse)
	line := Line{Since: since, Until: until}
	within := func(t time.Time) bool { return !t.Before(since) && t.Before(until) }
	fails, diagnoses := map[string]int{}, map[string]int{}
	for _, h := range histories {
		line.enter(h, within)
		line.Returned = append(line.Returned, h.returns(within)...)
		for name := range h.failed(within) {
			fails[name]++
		}
		found, err := h.diagnoses(ctx, from, within, parse)
		if err != nil {
			return Line{}, err
		}
		for code := range found {
			diagnoses[code]++
		}
	}
	line.Yield, line.YieldInterval = capability.Yield(line.Passed, line.Units, LineConfidence)
	line.Fails, line.Diagnoses = counts(fails), counts(diagnoses)
	line.RolledYield = rolled(line.Fails, line.Units)
	line.Soaks = soakTime(histories, within)
	line.Spreads, err = spreads(histories, within, parse)
	return line, err
}

// remembered parses each text once: most units of a console were tested by one
// sheet.
func remembered(parse func(string, []byte) (checks.Sheet, error)) func(string, []byte) (checks.Sheet, error) {
	known := map[string]checks.Sheet{}
	return func(name string, text []byte) (checks.Sheet, error) {
		if sheet, ok := known[string(text)]; ok {
			return sheet, nil
		}
		sheet, err := parse(name, text)
		if err == nil {
			known[string(text)] = sheet
		}
		return sheet, err
	}
}

// enter counts a unit whose first verdict was given in the time.
func (l *Line) enter(h unitHistory, within func(time.Time) bool) {
	first, ok := h.first()
	if !ok || !within(first.given) {
		return
	}
	l.Units++
	switch h.firstTime() {
	case checks.Pass:
		l.Passed++
		return
	case checks.Fail:
		l.Failed++
	default:
		l.Undecided++
	}
	if h.tests[len(h.tests)-1].outcome == checks.Pass {
		l.PassedLater++
	}
}

// counts puts the most frequent first, equal ones in the order of their names.
func counts(of map[string]int) []FailCount {
	var all []FailCount
	for name, n := range of {
		all = append(all, FailCount{name, n})
	}
	slices.SortFunc(all, func(a, b FailCount) int {
		return cmp.Or(cmp.Compare(b.Units, a.Units), cmp.Compare(a.Name, b.Name))
	})
	return all
}

// rolled is the yield of independent fails; NaN for no units.
func rolled(fails []FailCount, units int) float64 {
	if units == 0 {
		return math.NaN()
	}
	var steps []float64
	for _, f := range fails {
		steps = append(steps, 1-float64(min(f.Units, units))/float64(units))
	}
	return capability.RolledYield(steps...)
}

// soakTime adds up the soaks that ended in the time.
func soakTime(histories []unitHistory, within func(time.Time) bool) SoakTime {
	var t SoakTime
	var each []time.Duration
	for _, h := range histories {
		var unit time.Duration
		n := 0
		for _, test := range h.tests {
			if test.soak != nil && within(test.verdict.End) {
				n++
				unit += test.verdict.End.Sub(test.verdict.Begin)
			}
		}
		if n > 0 {
			t.Soaks, t.Units, t.Total = t.Soaks+n, t.Units+1, t.Total+unit
			each = append(each, unit)
		}
	}
	if len(each) > 0 {
		slices.Sort(each)
		t.MedianPerUnit = (each[(len(each)-1)/2] + each[len(each)/2]) / 2
	}
	return t
}

// unitHistories lists the judged tests of every unit, each in the order of time.
func unitHistories(ctx context.Context, from *book.Book) ([]unitHistory, error) {
	units, err := from.Units(ctx)
	if err != nil {
		return nil, err
	}
	at := map[checks.UnitID]int{}
	var all []unitHistory
	for _, unit := range units {
		at[unit.ID] = len(all)
		all = append(all, unitHistory{unit: unit.ID, console: unit.Console})
	}
	add := func(unit checks.UnitID, test unitTest) { all[at[unit]].tests = append(all[at[unit]].tests, test) }
	if err := soakTests(ctx, from, add); err != nil {
		return nil, err
	}
	if err := finalTests(ctx, from, add); err != nil {
		return nil, err
	}
	for _, h := range all {
		slices.SortStableFunc(h.tests, func(a, b unitTest) int { return a.given.Compare(b.given) })
	}
	return all, nil
}

func soakTests(ctx context.Context, from *book.Book, add func(checks.UnitID, unitTest)) error {
	soaks, err := from.Soaks(ctx, "")
	if err != nil {
		return err
	}
	for i := range soaks {
		kept, err := from.Verdict(ctx, soaks[i].ID)
		if errors.Is(err, book.ErrNotFound) {
			continue
		}
		if err != nil {
			return err
		}
		add(soaks[i].Unit, unitTest{begin: soaks[i].Begin, given: kept.At, outcome: kept.Outcome, soak: &soaks[i], verdict: kept.Verdict})
	}
	return nil
}

func finalTests(ctx context.Context, from *book.Book, add func(checks.UnitID, unitTest)) error {
	finals, err := from.Finals(ctx, "")
	if err != nil {
		return err
	}
	for i := range finals {
		kept, err := from.FinalVerdict(ctx, finals[i].ID)
		if errors.Is(err, book.ErrNotFound) {
			continue
		}
		if err != nil {
			return err
		}
		add(finals[i].Unit, unitTest{begin: finals[i].Begin, given: kept.At, outcome: kept.Outcome, final: &finals[i], finalVerdict: kept.FinalVerdict})
	}
	return nil
}

package logger

import (
	"context"
	"fmt"
	"math"
	"path/filepath"
	"slices"
	"strings"
	"testing"
	"time"

	"soakline/checks"
	"soakline/checks/capability"
	"soakline/device"
	"soakline/logger/book"
)

var lineBegan = time.Date(2026, 9, 1, 8, 0, 0, 0, time.UTC)

// lineSheet has a limit with two ends and one with one.
func lineSheet(string, []byte) (checks.Sheet, error) {
	guard := checks.GuardBand{Rule: checks.Simple}
	return checks.Sheet{Name: "brambling-8", Console: "Brambling 8", TestPoints: []checks.TestPoint{
		{Name: "rail-5v", Checks: []checks.Check{{Measure: device.DCVoltage, Limit: checks.Limit{Low: 4.75, Nominal: 5, High: 5.25, Guard: guard}}}},
		{Name: "reservoir-ripple", Checks: []checks.Check{{Measure: device.Ripple, Limit: checks.Limit{Low: math.Inf(-1), Nominal: math.NaN(), High: 1, Guard: guard}}}},
	}}, nil
}

// lineBook has units on their soaks, one a day.
type lineBook struct {
	*book.Book
	t     *testing.T
	soaks int
}

func newLineBook(t *testing.T) *lineBook {
	t.Helper()
	b, err := book.Open(t.Context(), filepath.Join(t.TempDir(), "line.book"), book.Options{})
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() {
		if err := b.Close(); err != nil {
			t.Error(err)
		}
	})
	return &lineBook{Book: b, t: t}
}

func (b *lineBook) must(err error) {
	b.t.Helper()
	if err != nil {
		b.t.Fatal(err)
	}
}

func (b *lineBook) add(unit checks.UnitID) {
	b.t.Helper()
	b.must(b.AddUnit(b.t.Context(), book.Unit{ID: unit, Console: "Brambling 8"}))
}

// soak is a soak of 20 h on a day of the line, with the means that it found.
func (b *lineBook) soak(unit checks.UnitID, day int, outcome checks.Outcome, rail, ripple float64) book.SoakID {
	b.t.Helper()
	ctx := context.WithoutCancel(b.t.Context())
	begin := lineBegan.AddDate(0, 0, day)
	b.soaks++
	id, err := b.BeginSoak(ctx, book.Soak{Bench: "quay", Place: fmt.Sprintf("place %d", b.soaks), Unit: unit, Sheet: book.SheetCopy{Name: "brambling-8", Text: []byte("x")}, Planned: 20 * time.Hour, Begin: begin})
	b.must(err)
	end := begin.Add(20 * time.Hour)
	b.must(b.EndSoak(ctx, id, book.SoakEnded, end, ""))
	v := checks.Verdict{Outcome: outcome, Unit: unit, Begin: begin, End: end, Planned: 20 * time.Hour, Evidence: 1}
	for _, one := range []struct {
		point checks.TestPointName
		m     device.Measure
		mean  float64
		fails bool
	}{{"rail-5v", device.DCVoltage, rail, !(rail >= 4.75 && rail <= 5.25)}, {"reservoir-ripple", device.Ripple, ripple, ripple > 1}} {
		result := checks.CheckResult{Check: checks.CheckKey{TestPoint: one.point, Measure: one.m}, Outcome: checks.Pass, Readings: 100, Mean: one.mean}
		if one.fails {
			result.Outcome = checks.Fail
		}
		v.Checks = append(v.Checks, result)
	}
	b.must(b.PutVerdict(ctx, id, end, v))
	return id
}

// final is a final test half a day after a day's soak.
func (b *lineBook) final(unit checks.UnitID, day int, outcome checks.Outcome, steps ...checks.StepVerdict) {
	b.t.Helper()
	ctx := b.t.Context()
	begin := lineBegan.AddDate(0, 0, day).Add(30 * time.Hour)
	id, err := b.BeginFinal(ctx, book.Final{Bench: "quay", Place: "left", Unit: unit, Sheet: book.SheetCopy{Name: "brambling-8", Text: []byte("x")}, Begin: begin})
	b.must(err)
	b.must(b.AddStepResult(ctx, id, checks.StepResult{Step: "picture", Act: checks.Taken, Begin: begin, End: begin,
		Findings: []checks.Finding{{Code: "level-low", State: checks.Outside}, {Code: "noisy", State: checks.Within}}}))
	b.must(b.EndFinal(ctx, id, begin.Add(time.Hour), ""))
	b.must(b.PutFinalVerdict(ctx, id, begin.Add(time.Hour), checks.FinalVerdict{Outcome: outcome, Steps: steps}))
}

func (b *lineBook) line(sinceDay, untilDay int) Line {
	b.t.Helper()
	line, err := LineOf(b.t.Context(), b.Book, lineBegan.AddDate(0, 0, sinceDay), lineBegan.AddDate(0, 0, untilDay), lineSheet)
	b.must(err)
	return line
}

// TestLineCounts: who is right the first time, and who only later.
func TestLineCounts(t *testing.T) {
	b := newLineBook(t)
	for _, unit := range []checks.UnitID{"good", "reworked", "broken", "open", "picture", "back", "never", "before"} {
		b.add(unit)
	}
	b.soak("before", -9, checks.Fail, 5.4, 0.5) // before the time: no unit of it, and what it passes later neither
	b.soak("before", 3, checks.Pass, 5.0, 0.5)
	b.soak("good", 1, checks.Pass, 5.01, 0.4)
	b.final("good", 1, checks.Pass)
	b.soak("reworked", 1, checks.Fail, 5.31, 0.4)
	b.soak("reworked", 3, checks.Pass, 5.02, 0.4)
	b.soak("broken", 2, checks.Fail, 5.32, 1.2)
	b.soak("open", 2, checks.Undecided, 5.00, 0.4)
	b.soak("picture", 2, checks.Pass, 5.00, 0.4)
	b.final("picture", 2, checks.Fail, checks.StepVerdict{Step: "sound", Kind: checks.StepQuestion, Outcome: checks.Fail},
		checks.StepVerdict{Step: "soaked", Kind: checks.StepSoak, Outcome: checks.Fail})
	b.soak("back", 1, checks.Pass, 5.0, 0.4)
	b.final("back", 1, checks.Pass)
	b.soak("back", 20, checks.Fail, 5.5, 0.4)
	line := b.line(0, 60)
	if line.Units != 6 || line.Passed != 2 || line.Failed != 3 || line.Undecided != 1 || line.PassedLater != 1 {
		t.Errorf("units %d, passed %d, failed %d, undecided %d, later %d", line.Units, line.Passed, line.Failed, line.Undecided, line.PassedLater)
	}
	wantYield, wantWithin := capability.Yield(2, 6, LineConfidence)
	if line.Yield != wantYield || line.YieldInterval != wantWithin {
		t.Errorf("yield %v %v", line.Yield, line.YieldInterval)
	}
	if want := []FailCount{{"rail-5v dc-voltage", 3}, {"reservoir-ripple ripple", 1}, {"step sound", 1}}; !slices.Equal(line.Fails, want) {
		t.Errorf("fails %v, want %v", line.Fails, want)
	}
	if want := []FailCount{{"level-low", 1}}; !slices.Equal(line.Diagnoses, want) {
		t.Errorf("diagnoses %v, want %v", line.Diagnoses, want)
	}
	if want := (1 - 3.0/6) * (1 - 1.0/6) * (1 - 1.0/6); math.Abs(line.RolledYield-want) > 1e-12 {
		t.Errorf("rolled yield %v, want %v", line.RolledYield, want)
	}
	if len(line.Returned) != 1 || line.Returned[0].Unit != "back" || line.Returned[0].Outcome != checks.Fail || !line.Returned[0].Again.Equal(lineBegan.AddDate(0, 0, 20)) {
		t.Errorf("came back: %+v", line.Returned)
	}
	if s := line.Soaks; s.Soaks != 9 || s.Units != 7 || s.Total != 180*time.Hour || s.MedianPerUnit != 20*time.Hour {
		t.Errorf("time on soak %+v", s)
	}
}

// TestLineOfATime: the first verdict decides whether a unit belongs to a time, from
// its begin on and without its end.
func TestLineOfATime(t *testing.T) {
	b := newLineBook(t)
	b.add("a")
	b.soak("a", 1, checks.Pass, 5, 0.4) // its verdict is given on day 1, 20 h
	ctx, at := t.Context(), lineBegan.AddDate(0, 0, 1).Add(20*time.Hour)
	for _, row := range []struct {
		since, until time.Time
		want         int
	}{{at, at.Add(time.Second), 1}, {at.Add(time.Microsecond), at.Add(time.Hour), 0}, {at.Add(-time.Hour), at, 0}, {time.Time{}, at.Add(time.Hour), 1}} {
		line, err := LineOf(ctx, b.Book, row.since, row.until, lineSheet)
		if err != nil || line.Units != row.want {
			t.Errorf("%v to %v: %d units (%v), want %d", row.since, row.until, line.Units, err, row.want)
		}
		if row.want == 0 && !(math.IsNaN(line.Yield) && math.IsNaN(line.RolledYield)) {
			t.Errorf("a yield of no units: %v, %v", line.Yield, line.RolledYield)
		}
	}
}

// TestCameBackWithoutFinalTests: where a console has none, a pass on a soak is what
// a unit comes back from.
func TestCameBackWithoutFinalTests(t *testing.T) {
	b := newLineBook(t)
	b.add("a")
	b.soak("a", 1, checks.Fail, 5.5, 0.4)
	b.soak("a", 3, checks.Pass, 5, 0.4)
	b.soak("a", 9, checks.Fail, 5.5, 0.4)
	b.soak("a", 12, checks.Pass, 5, 0.4)
	b.soak("a", 30, checks.Undecided, 5, 0.4)
	var days []float64
	for _, r := range b.line(0, 60).Returned {
		days = append(days, r.Again.Sub(lineBegan).Hours()/24)
	}
	if !slices.Equal(days, []float64{9, 30}) {
		t.Errorf("came back on days %v", days)
	}
}

// TestLineSpread: one figure of each unit, an index from enough units on, and a
// limit that is proposed from the good ones alone.
func TestLineSpread(t *testing.T) {
	b := newLineBook(t)
	var rails []float64
	for i := range 24 {
		unit := checks.UnitID(fmt.Sprintf("B8-%04d", i))
		b.add(unit)
		rail := 5 + 0.01*float64(i%5-2)
		if i == 0 {
			b.soak(unit, 0, checks.Fail, 5.9, 0.3) // the latest soak counts
		}
		outcome := checks.Pass
		if i >= 22 {
			outcome, rail = checks.Fail, 5.4
		}
		rails = append(rails, rail)
		b.soak(unit, 2+i, outcome, rail, 0.4+0.01*float64(i%3))
	}
	line := b.line(0, 90)
	if len(line.Spreads) != 2 {
		t.Fatalf("%d spreads", len(line.Spreads))
	}
	rail, ripple := line.Spreads[0], line.Spreads[1]
	if want := capability.Index(rails, 4.75, 5.25, LineConfidence); rail.N != 24 || math.Abs(rail.Cpk-want.Cpk) > 1e-12 || math.Abs(rail.Mean-want.Mean) > 1e-12 {
		t.Errorf("rail %+v, want %+v", rail.Indices, want)
	}
	if !math.IsNaN(ripple.Cp) || math.IsNaN(ripple.Cpk) {
		t.Errorf("a limit with one end: Cp %v, Cpk %v", ripple.Cp, ripple.Cpk)
	}
	good := capability.Index(rails[:22], 4.75, 5.25, LineConfidence)
	if s := rail.Suggested; s == nil || s.Good != 22 || math.Abs(s.Nominal-good.Mean) > 1e-12 ||
		math.Abs(s.High-good.Mean-capability.ToleranceFactor(22, 0.99, 0.95)*good.SD) > 1e-12 {
		t.Errorf("suggested %+v", s)
	}
	if s := ripple.Suggested; s == nil || !math.IsInf(s.Low, -1) || !(s.High > 0.42 && s.High < 0.46) {
		t.Errorf("suggested %+v", s)
	}
	if text := rail.YAML(); !strings.Contains(text, "  low_v: 4.95\n") && !strings.Contains(text, "  low_v: 4.94") || !strings.Contains(text, "now 4.75 V to 5.25 V (brambling-8)") {
		t.Errorf("proposal\n%s", text)
	}
	if few := b.line(0, 10); few.Spreads[0].Suggested != nil || few.Spreads[0].YAML() != "" || !math.IsNaN(few.Spreads[0].Cpk) {
		t.Errorf("%d units: %+v", few.Spreads[0].N, few.Spreads[0])
	}
}

func TestLineOfAnEmptyBook(t *testing.T) {
	line := newLineBook(t).line(0, 90)
	if line.Units != 0 || !math.IsNaN(line.Yield) || line.Spreads != nil || line.Returned != nil || line.Soaks != (SoakTime{}) {
		t.Errorf("%+v", line)
	}
}

package checks_test

import (
	"fmt"
	"math"
	"strings"
	"testing"
	"time"

	"soakline/checks"
	"soakline/device"
)

var (
	begin = time.Date(2026, 3, 1, 2, 0, 0, 0, time.UTC)
	rail  = checks.CheckKey{TestPoint: "rail-5v", Measure: device.DCVoltage}
)

// at is a number of seconds after the begin.
func at(seconds float64) time.Time {
	return begin.Add(time.Duration(seconds * float64(time.Second)))
}

// volts is a reading with a standard uncertainty of 0.01 V.
func volts(seconds, value float64) device.Reading {
	return device.Reading{Measure: device.DCVoltage, Value: value, At: at(seconds), StandardUncertainty: 0.01}
}

// railCheck keeps to 4.75 to 5.25 V, accepts 4.77 to 5.23 V of the readings that
// volts makes, and is fresh for 2 s.
func railCheck() checks.Check {
	return checks.Check{
		Measure: device.DCVoltage, Limit: band(4.75, 5.25, 1),
		Every: time.Second, FreshFor: 2 * time.Second,
	}
}

// feed observes values one second apart from second `from` on and writes the
// changes in short: "3 within>outside", "3 begun outside high".
func feed(w *checks.Watch, from float64, values ...float64) string {
	var lines []string
	for i, v := range values {
		for _, c := range w.Observe(volts(from+float64(i), v)) {
			lines = append(lines, short(c))
		}
	}
	return strings.Join(lines, "; ")
}

func short(c checks.Change) string {
	seconds := c.At.Sub(begin).Seconds()
	if c.Kind == checks.StateChanged {
		return fmt.Sprintf("%g %s>%s", seconds, c.From, c.To)
	}
	text := fmt.Sprintf("%g %s", seconds, strings.TrimPrefix(string(c.Kind), "excursion-"))
	if c.Kind == checks.CheckRefused {
		return text
	}
	text += fmt.Sprintf(" %s %s from %g", c.Excursion.State, c.Excursion.Edge, c.Excursion.From.Sub(begin).Seconds())
	if c.Excursion.To.IsZero() {
		return text
	}
	return text + fmt.Sprintf(" to %g worst %g at %g", c.Excursion.To.Sub(begin).Seconds(), c.Excursion.Worst,
		c.Excursion.WorstAt.Sub(begin).Seconds())
}

// The rules are the sheet's own (hold, hysteresis, settle); the states' edges are
// those of ILAC-G8, 4.2.3. The sequences are constructed.
func TestWatchSequences(t *testing.T) {
	for _, row := range []struct {
		name   string
		change func(*checks.Check)
		values []float64
		want   string
	}{
		{"all within", nil, []float64{5, 5, 5}, "0 settling>within"},
		{"outside at once without a hold time", nil, []float64{5, 5.3, 5},
			"0 settling>within; 1 begun outside high from 1; 1 within>outside; " +
				"2 ended outside high from 1 to 2 worst 5.3 at 1; 2 outside>within"},
		{"borderline is kept apart", nil, []float64{5, 5.24, 5.4, 5.24, 5},
			"0 settling>within; 1 begun borderline high from 1; 1 within>borderline; " +
				"2 ended borderline high from 1 to 2 worst 5.24 at 1; 2 begun outside high from 2; 2 borderline>outside; " +
				"3 ended outside high from 2 to 3 worst 5.4 at 2; 3 begun borderline high from 3; 3 outside>borderline; " +
				"4 ended borderline high from 3 to 4 worst 5.24 at 3; 4 borderline>within"},
		{"shorter than the hold time", hold(2), []float64{5, 5.3, 5.3, 5},
			"0 settling>within; 1 within>outside; 3 outside>within"},
		{"as long as the hold time: from the first outside to the first back", hold(2), []float64{5, 5.3, 5.5, 5.3, 5, 5, 5},
			"0 settling>within; 1 within>outside; 3 begun outside high from 1; " +
				"6 ended outside high from 1 to 4 worst 5.5 at 2; 6 outside>within"},
		{"a relapse in the hold time goes on", hold(2), []float64{5.3, 5.3, 5.3, 5, 5.4, 5, 5, 5},
			"0 settling>outside; 2 begun outside high from 0; 7 ended outside high from 0 to 5 worst 5.4 at 4; 7 outside>within"},
		{"hopping over the limit's band is borderline at least", hold(2), []float64{5.3, 5.24, 5.3, 5.24},
			"0 settling>outside; 1 outside>borderline; 2 begun borderline high from 0; 2 borderline>outside; 3 outside>borderline"},
		{"a borderline one that turns outside keeps its own worst", hold(2), []float64{5.24, 5.235, 5.24, 5.5, 5.6, 5.4},
			"0 settling>borderline; 2 begun borderline high from 0; 3 borderline>outside; " +
				"5 ended borderline high from 0 to 3 worst 5.24 at 0; 5 begun outside high from 3"},
		{"hysteresis keeps it", func(c *checks.Check) { c.Hysteresis = 0.1 }, []float64{5.3, 5.2, 5.16, 5.15},
			"0 begun outside high from 0; 0 settling>outside; 3 ended outside high from 0 to 3 worst 5.3 at 0; 3 outside>within"},
		{"low side", nil, []float64{4.6, 4.5, 5},
			"0 begun outside low from 0; 0 settling>outside; 2 ended outside low from 0 to 2 worst 4.5 at 1; 2 outside>within"},
		{"settling is not judged", func(c *checks.Check) { c.Settle = 3 * time.Second }, []float64{9, 9, 9, 5},
			"3 settling>within"},
		{"a guard band that leaves nothing", func(c *checks.Check) { c.Limit.Guard.Ratio = 12.5 }, []float64{9},
			"0 check-refused; 0 begun borderline high from 0; 0 settling>borderline"},
	} {
		t.Run(row.name, func(t *testing.T) {
			check := railCheck()
			if row.change != nil {
				row.change(&check)
			}
			w := checks.NewWatch(check, rail, begin)
			if got := feed(w, 0, row.values...); got != row.want {
				t.Errorf("got  %s\nwant %s", got, row.want)
			}
		})
	}
}

func hold(seconds int) func(*checks.Check) {
	return func(c *checks.Check) { c.Hold = time.Duration(seconds) * time.Second }
}

func TestSilence(t *testing.T) {
	w := checks.NewWatch(railCheck(), rail, begin)
	feed(w, 0, 5, 5)
	if c := w.Advance(at(3)); c != nil {
		t.Errorf("exactly fresh_for after the reading it is still fresh, got %v", c)
	}
	if c := w.Advance(at(3.000001)); len(c) != 1 || short(c[0]) != "3 within>silent" {
		t.Errorf("got %v", c)
	}
	if c := w.Advance(at(60)); c != nil {
		t.Errorf("silence is told once, got %v", c)
	}
	if text := w.Standing().FigureText(); text != checks.NotKnown {
		t.Errorf("a silent check shows %q", text)
	}
	if got := feed(w, 61, 5); got != "61 silent>within" {
		t.Errorf("got %s", got)
	}
	other := checks.NewWatch(railCheck(), rail, begin)
	feed(other, 0, 5, 5)
	if got := feed(other, 61, 5); got != "3 within>silent; 61 silent>within" {
		t.Errorf("without being told the time: %s", got)
	}
	never := checks.NewWatch(railCheck(), rail, begin)
	if c := never.Advance(at(5)); len(c) != 1 || short(c[0]) != "2 settling>silent" {
		t.Errorf("never read: %v", c)
	}
}

func TestRefusedReadings(t *testing.T) {
	w := checks.NewWatch(railCheck(), rail, begin)
	feed(w, 10, 5)
	for _, r := range []device.Reading{
		volts(9.999999, 9), volts(-5, 9), volts(10, math.NaN()), volts(11, math.Inf(1)),
	} {
		if c := w.Observe(r); c != nil {
			t.Errorf("%v: %v", r, c)
		}
	}
	if s := w.Standing(); s.State != checks.Within || s.Readings != 1 || s.Figure != 5 {
		t.Errorf("got %+v", s)
	}
}

func TestOffsetAgainstTestPoint(t *testing.T) {
	check := railCheck()
	check.Limit = band(-0.1, 0.1, 1)
	check.Against = checks.Reference{TestPoint: "ground"}
	w := checks.NewWatch(check, rail, begin)
	if c := w.Observe(volts(0, 5)); c != nil || w.State() != checks.Settling {
		t.Errorf("without a reference there is no figure: %v, %s", c, w.State())
	}
	w.ObserveReference(volts(0.5, 4.95))
	w.Observe(volts(1, 5))
	s := w.Standing()
	if math.Abs(s.Figure-0.05) > 1e-12 || math.Abs(s.U-math.Hypot(0.01, 0.01)) > 1e-15 || s.Value != 5 || s.State != checks.Within {
		t.Errorf("got %+v", s)
	}
	w.Observe(volts(2, 5))
	if got := feed(w, 3, 5, 5); got != "2.5 within>silent" {
		t.Errorf("the reference of 0.5 s is stale after 2.5 s: %q", got)
	}
	if w.State() != checks.Silent {
		t.Errorf("a stale reference leaves it %s", w.State())
	}
	w.ObserveReference(volts(4.5, 4.7))
	if got := feed(w, 5, 5); !strings.HasPrefix(got, "5 begun outside high") {
		t.Errorf("got %s", got)
	}
	// Covered: 1 to 2 s; the begin stands for a figure at 0, so 0 to 1 s as well.
	near(t, "evidence", w.Evidence(at(5)), 2.0/5, 1e-12)
}

func TestOffsetAgainstBaseline(t *testing.T) {
	check := railCheck()
	check.Limit = band(-0.1, 0.1, 1)
	check.Settle = 2 * time.Second
	check.Against = checks.Reference{Baseline: true, BaselineFor: 3 * time.Second}
	w := checks.NewWatch(check, rail, begin)
	if got := feed(w, 0, 9, 9, 4.97, 5, 5.03, 5.05, 5.3); got != "5 settling>within; 6 begun outside high from 6; 6 within>outside" {
		t.Errorf("got %s", got)
	}
	s := w.Standing()
	near(t, "figure", s.Figure, 0.3, 1e-12)
	// u of the baseline: 0.01 of the instrument and 0.03/sqrt(3) of three readings
	// that scatter by 0.03 (T-01), then the reading's own 0.01 (T-03).
	near(t, "u", s.U, math.Sqrt(0.01*0.01+0.03*0.03/3+0.01*0.01), 1e-12)

	late := checks.NewWatch(check, rail, begin)
	if got := feed(late, 100, 5, 5, 5, 5); got != "2 settling>silent; 100 silent>settling; 103 settling>within" {
		t.Errorf("a late baseline takes its whole time: %s", got)
	}
	near(t, "evidence of the late one", late.Evidence(at(103)), 0, 0)
}

func BenchmarkObserve(b *testing.B) {
	w := checks.NewWatch(railCheck(), rail, begin)
	r := volts(0, 5)
	b.ReportAllocs()
	for b.Loop() {
		r.At = r.At.Add(time.Second)
		w.Observe(r)
	}
}

func BenchmarkJudgementObserve(b *testing.B) {
	j := checks.NewJudgement(benchSheet(), "B8-0147", begin, 1e6*time.Hour)
	r := volts(0, 5)
	b.ReportAllocs()
	for b.Loop() {
		r.At = r.At.Add(time.Second)
		j.Observe("rail-5v", r)
	}
}

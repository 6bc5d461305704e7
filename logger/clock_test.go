package logger

import (
	"errors"
	"strings"
	"testing"
	"testing/synctest"
	"time"

	"soakline/checks"
	"soakline/device/scpi"
)

// startAt has the rig's clock, and that of its machine, show a time.
func (r *rig) startAt(at time.Time) {
	r.clock.mu.Lock()
	defer r.clock.mu.Unlock()
	r.clock.offset = time.Until(at)
}

// setMachine sets the machine's clock, which the readings' clock does not follow by
// itself.
func (r *rig) setMachine(at time.Time) {
	r.clock.set(scpi.Stray{Ahead: at.Sub(r.clock.Now()), SleepKnown: true})
}

// told are the texts of what the bench itself has to say, in the order of their times.
func (r *rig) told() []string {
	var all []string
	for _, e := range r.events(programName) {
		all = append(all, e.Text)
	}
	return all
}

// TestClockDuringASoak: whatever happens to the machine's clock while a unit soaks,
// every reading is kept and judged once, the soak takes as long as it takes, nothing is
// made up, and the book says what happened. By the clock of the readings, which is
// monotonic, nothing has happened.
func TestClockDuringASoak(t *testing.T) {
	slewed := func(second int) time.Duration { return time.Duration(second) * 500 * time.Microsecond } // adjtime(3): 500 us a second
	stepped := func(by time.Duration) func(int) time.Duration {
		return func(second int) time.Duration {
			if second < 1000 {
				return 0
			}
			return by
		}
	}
	for _, row := range []struct {
		name  string
		begin time.Time
		// ahead is how far the machine's clock is ahead of an even one.
		ahead        func(second int) time.Duration
		says         string
		least, most  int           // how often
		follows      time.Duration // how far the readings' clock is away when no soak runs
		localAtBegin string
		localAtEnd   string
	}{
		{name: "set ahead by an hour", ahead: stepped(time.Hour), says: "set ahead by 1h0m0s during a soak", least: 1, most: 1, follows: time.Hour},
		{name: "set back by an hour", ahead: stepped(-time.Hour), says: "set back by 1h0m0s during a soak", least: 1, most: 1, follows: -time.Hour},
		{name: "set ahead by less than is told", ahead: stepped(900 * time.Millisecond), says: "during a soak"},
		{name: "slewed for hours", ahead: slewed, says: "ahead by", least: 1, most: 2, follows: 1800 * time.Millisecond},
		{name: "to summer time", begin: time.Date(2026, 3, 29, 0, 30, 0, 0, time.UTC), ahead: stepped(0), says: "clock", localAtBegin: "01:30", localAtEnd: "03:30"},
		{name: "from summer time", begin: time.Date(2026, 10, 25, 0, 30, 0, 0, time.UTC), ahead: stepped(0), says: "clock", localAtBegin: "02:30", localAtEnd: "02:30"},
	} {
		t.Run(row.name, func(t *testing.T) {
			settings := testSettings(t)
			settings.CommitEvery = 20 * time.Minute
			zone, err := time.LoadLocation("Europe/Berlin") // summer time ends and begins at 01:00 UTC (Directive 2000/84/EC)
			if err != nil {
				t.Fatal(err)
			}
			synctest.Test(t, func(t *testing.T) {
				r := startRig(t, settings)
				if !row.begin.IsZero() {
					r.startAt(row.begin)
				}
				r.run()
				even := r.clock.Now()
				began := time.Now()
				r.begin("B8-0147", "left", time.Hour)
				for second := range 3600 {
					r.setMachine(even.Add(time.Since(began) + row.ahead(second)))
					r.volts(rail, 5.02)
					time.Sleep(time.Second)
				}
				verdict := (<-r.finished).Verdict
				check := verdict.Checks[0]
				if verdict.Outcome != checks.Pass || check.OutOfOrder != 0 || check.GapCount != 0 || check.Readings+check.Settling != 3600 || verdict.End.Sub(verdict.Begin) != time.Hour {
					t.Errorf("%s after %s: %+v", verdict.Outcome, verdict.End.Sub(verdict.Begin), check)
				}
				if row.localAtBegin != "" && (verdict.Begin.In(zone).Format("15:04") != row.localAtBegin || verdict.End.In(zone).Format("15:04") != row.localAtEnd) {
					t.Errorf("from %v to %v", verdict.Begin.In(zone), verdict.End.In(zone))
				}
				n := 0
				for _, text := range r.told() {
					if strings.Contains(text, row.says) {
						n++
					}
				}
				if n < row.least || n > row.most {
					t.Errorf("told %q", r.told())
				}
				time.Sleep(time.Second)
				if away := r.clock.Now().Sub(even.Add(time.Since(began))); (away - row.follows).Abs() > time.Second {
					t.Errorf("with no soak the readings' clock is away by %v, want %v", away, row.follows)
				}
				r.close()
			})
		})
	}
}

// TestClockThatWasNeverSet: a machine without a battery begins in 1970. What would be
// kept under such a time is refused in words; when the clock is set, all is well.
func TestClockThatWasNeverSet(t *testing.T) {
	settings := testSettings(t)
	synctest.Test(t, func(t *testing.T) {
		r := startRig(t, settings)
		r.startAt(time.Unix(40, 0))
		r.run()
		_, err := r.BeginSoak(t.Context(), SoakRequest{Unit: "B8-0147", Place: "left", For: time.Hour})
		if !errors.Is(err, ErrNoClock) || !strings.Contains(err.Error(), "it shows 1970-01-01") {
			t.Errorf("a soak in 1970: %v", err)
		}
		_, err = r.BeginRound(t.Context(), RoundPlan{}, RoundRequest{Label: "as received"})
		if !errors.Is(err, ErrNoClock) {
			t.Errorf("a round in 1970: %v", err)
		}
		_, err = r.BeginFinal(t.Context(), FinalRequest{Unit: "B8-0147"})
		if !errors.Is(err, ErrNoClock) {
			t.Errorf("a final test in 1970: %v", err)
		}
		now := time.Date(2026, 11, 25, 17, 0, 0, 0, time.UTC)
		r.setMachine(now)
		time.Sleep(time.Second)
		soak := r.begin("B8-0147", "left", time.Hour)
		if soak.Begin.Sub(now).Abs() > 2*time.Second {
			t.Errorf("it began at %v", soak.Begin)
		}
		if told := r.told(); len(told) != 1 || !strings.Contains(told[0], "from here on times are by the new one") {
			t.Errorf("told %q", told)
		}
		r.close()
	})
}

// TestSoakGoesOnInTheWrongYear: a power cut in the middle of a soak; the machine comes
// back without knowing the time. How long it was away nobody can say, so that it is no
// pass; where the clock is set during the soak, the gap is as long as it was.
func TestSoakGoesOnInTheWrongYear(t *testing.T) {
	const away = 2 * time.Hour
	for _, row := range []struct {
		name string
		set  bool
		gap  time.Duration
	}{
		{"and the clock is set", true, away},
		{"and the clock stays wrong", false, 5*time.Minute + time.Second},
	} {
		t.Run(row.name, func(t *testing.T) {
			settings := testSettings(t)
			settings.CommitEvery = 20 * time.Minute
			synctest.Test(t, func(t *testing.T) {
				feed := func(r *rig, seconds int) {
					for range seconds {
						r.volts(rail, 5.02)
						time.Sleep(time.Second)
					}
				}
				r := startRig(t, settings).run()
				r.begin("B8-0147", "left", 4*time.Hour)
				feed(r, 1800)
				r.close()
				time.Sleep(away)
				trueTime := time.Now
				r = startRig(t, settings)
				r.startAt(time.Unix(40, 0))
				r.run()
				feed(r, 60)
				if row.set {
					r.setMachine(trueTime())
				}
				feed(r, 4*3600)
				verdict := (<-r.finished).Verdict
				check := verdict.Checks[0]
				if verdict.Outcome != checks.Undecided || check.OutOfOrder != 0 || (check.GapTotal-row.gap).Abs() > 4*time.Second {
					t.Errorf("%s, %d out of order, gaps of %v in all: %v; want %v", verdict.Outcome, check.OutOfOrder, check.GapTotal, check.Gaps, row.gap)
				}
				if told := strings.Join(r.told(), "; "); !strings.Contains(told, "nobody can say how long the program was away") ||
					strings.Contains(told, "the program had been away") != row.set {
					t.Errorf("told %q", told)
				}
				r.close()
			})
		})
	}
}

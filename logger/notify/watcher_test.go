package notify

import (
	"context"
	"log/slog"
	"slices"
	"strings"
	"sync"
	"sync/atomic"
	"testing"
	"testing/synctest"
	"time"

	"soakline/checks"
	"soakline/checks/reservoir"
	"soakline/device"
	"soakline/logger"
)

// fakeBench lets a test make things happen.
type fakeBench struct {
	happenings chan logger.Happening
	snapshot   logger.Snapshot
}

func (f *fakeBench) Follow() (<-chan logger.Happening, func()) { return f.happenings, func() {} }

func (f *fakeBench) Snapshot(context.Context) (logger.Snapshot, error) { return f.snapshot, nil }

var rail = checks.CheckKey{TestPoint: "rail-5v", Measure: device.DCVoltage}

// watched runs a watcher in a bubble of time and returns what it tells.
type watched struct {
	bench *fakeBench
	mu    sync.Mutex
	told  []Notice
	free  atomic.Uint64
	stop  func()
}

func watch(t *testing.T, remind time.Duration) *watched {
	t.Helper()
	w := &watched{bench: &fakeBench{happenings: make(chan logger.Happening, 64), snapshot: logger.Snapshot{Bench: "pier-end",
		Soaks: []logger.SoakStatus{{Unit: "B8-0147", Console: "Brambling 8", RemindEvery: remind}}}}}
	w.free.Store(10e9)
	watcher := NewWatcher(w.bench, Settings{DiskLowBytes: 1e9}, func() (uint64, error) { return w.free.Load(), nil },
		w.take, slog.New(slog.DiscardHandler))
	ctx, cancel := context.WithCancel(t.Context())
	ended := make(chan error, 1)
	go func() { ended <- watcher.Run(ctx) }()
	w.stop = func() {
		cancel()
		if err := <-ended; err != nil {
			t.Error(err)
		}
	}
	return w
}

func (w *watched) take(n Notice) {
	w.mu.Lock()
	defer w.mu.Unlock()
	w.told = append(w.told, n)
}

// notices are what was told so far.
func (w *watched) notices() []Notice {
	w.mu.Lock()
	defer w.mu.Unlock()
	return slices.Clone(w.told)
}

func (w *watched) happens(h logger.Happening) {
	h.At, h.Unit, h.Soak = time.Now(), "B8-0147", 7
	w.bench.happenings <- h
	synctest.Wait()
}

// stages lists what was told so far as "excursion began".
func (w *watched) stages() string {
	var all []string
	for _, n := range w.notices() {
		all = append(all, string(n.Kind)+" "+string(n.Stage))
	}
	return strings.Join(all, ", ")
}

func (w *watched) expect(t *testing.T, want string) {
	t.Helper()
	if got := w.stages(); got != want {
		t.Errorf("told %q, want %q", got, want)
	}
}

func outside(from time.Time) *checks.Excursion {
	return &checks.Excursion{Check: rail, State: checks.Outside, Edge: checks.LowEdge, From: from, Worst: 4.7123, WorstU: 0.0007, Limit: 4.75}
}

// An excursion is told once when it begins, again as often as the sheet asks, and once
// when it is over; all of it as one event.
func TestExcursionIsToldOnceWithReminders(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		w := watch(t, 10*time.Minute)
		defer w.stop()
		e := outside(time.Now())
		w.happens(logger.Happening{Kind: logger.ExcursionBegan, Check: rail, Excursion: e})
		w.happens(logger.Happening{Kind: logger.ExcursionBegan, Check: rail, Excursion: e})
		w.expect(t, "excursion began")
		if n := w.notices()[0]; n.Bench != "pier-end" || n.Console != "Brambling 8" || n.Unit != "B8-0147" || n.Soak != 7 || n.TestPoint != "rail-5v" ||
			!strings.Contains(n.Text, "left its limits") || !strings.Contains(n.Text, "low limit 4.75 V") || !strings.Contains(n.Text, "4.7123 V") {
			t.Errorf("%+v", n)
		}
		time.Sleep(25 * time.Minute)
		synctest.Wait()
		w.expect(t, "excursion began, excursion still, excursion still")
		e.To = time.Now()
		w.happens(logger.Happening{Kind: logger.ExcursionOver, Check: rail, Excursion: e})
		w.expect(t, "excursion began, excursion still, excursion still, excursion over")
		for _, n := range w.notices() {
			if n.ID != w.notices()[0].ID || n.ID == "" {
				t.Errorf("%s has another identity", n.Stage)
			}
		}
		if text := w.notices()[3].Text; !strings.Contains(text, "after 25 min outside") {
			t.Errorf("%q", text)
		}
		time.Sleep(time.Hour)
		synctest.Wait()
		w.expect(t, "excursion began, excursion still, excursion still, excursion over")
	})
}

// What stands in its guard band is told by the verdict, not at once; without
// reminders in the sheet there are none.
func TestWhatIsNotTold(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		w := watch(t, 0)
		defer w.stop()
		borderline := outside(time.Now())
		borderline.State = checks.Borderline
		w.happens(logger.Happening{Kind: logger.ExcursionBegan, Check: rail, Excursion: borderline})
		borderline.To = time.Now()
		w.happens(logger.Happening{Kind: logger.ExcursionOver, Check: rail, Excursion: borderline})
		w.happens(logger.Happening{Kind: logger.StateChange, Check: rail, From: checks.Settling, To: checks.Within})
		w.happens(logger.Happening{Kind: logger.PortChange, Instrument: "meter", Event: device.Lost})
		w.expect(t, "")
		w.happens(logger.Happening{Kind: logger.ExcursionBegan, Check: rail, Excursion: outside(time.Now())})
		time.Sleep(24 * time.Hour)
		synctest.Wait()
		w.expect(t, "excursion began")
	})
}

// Checks that fall silent one after another are told together, and not at all if they
// are read again at once.
func TestSilenceIsToldTogether(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		w := watch(t, 0)
		defer w.stop()
		reservoir := checks.CheckKey{TestPoint: "reservoir", Measure: device.DCVoltage}
		silent := func(check checks.CheckKey, from, to checks.State) {
			w.happens(logger.Happening{Kind: logger.StateChange, Check: check, From: from, To: to})
		}
		silent(rail, checks.Within, checks.Silent)
		silent(rail, checks.Silent, checks.Within)
		time.Sleep(time.Minute)
		synctest.Wait()
		w.expect(t, "")
		silent(rail, checks.Within, checks.Silent)
		time.Sleep(time.Second)
		silent(reservoir, checks.Within, checks.Silent)
		time.Sleep(10 * time.Second)
		synctest.Wait()
		w.expect(t, "silence began")
		if text := w.notices()[0].Text; !strings.Contains(text, "no fresh reading of rail-5v, reservoir since") {
			t.Errorf("%q", text)
		}
		silent(rail, checks.Silent, checks.Within)
		w.expect(t, "silence began")
		silent(reservoir, checks.Silent, checks.Within)
		w.expect(t, "silence began, silence over")
	})
}

// A verdict is told once, and ends what lasted of the unit.
func TestVerdictIsTold(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		w := watch(t, time.Minute)
		defer w.stop()
		w.happens(logger.Happening{Kind: logger.ExcursionBegan, Check: rail, Excursion: outside(time.Now())})
		w.happens(logger.Happening{Kind: logger.SoakOver})
		begin := time.Now().Add(-24 * time.Hour)
		verdict := checks.Verdict{Outcome: checks.Fail, Begin: begin, End: time.Now(), Evidence: 0.998,
			Reasons: []checks.Reason{{Kind: checks.LeftLimit, Begin: begin, Check: rail, Excursion: *outside(begin)}}}
		w.happens(logger.Happening{Kind: logger.VerdictGiven, Finished: &logger.FinishedSoak{Unit: "B8-0147", Console: "Brambling 8", Verdict: verdict}})
		time.Sleep(time.Hour)
		synctest.Wait()
		w.expect(t, "excursion began, verdict began")
		if n := w.notices()[1]; n.Verdict != checks.Fail || !strings.Contains(n.Text, "fail after 24 h, evidence 99.8 %. First reason: rail-5v dc-voltage left its limits") {
			t.Errorf("%+v", n)
		}
	})
}

func TestStoredChargeThatComesBack(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		w := watch(t, 0)
		defer w.stop()
		for _, phase := range []reservoir.Phase{reservoir.Falling, reservoir.Below, reservoir.Rising, reservoir.NotKnown, reservoir.Rising, reservoir.Below, reservoir.Rising} {
			w.happens(logger.Happening{Kind: logger.DischargeStand, Check: rail, Discharge: &reservoir.Outlook{Phase: phase, Volts: 2.31}})
		}
		w.expect(t, "stored-charge began, stored-charge began")
		if text := w.notices()[0].Text; !strings.Contains(text, "coming back by itself: 2.31 V. Keep hands out") {
			t.Errorf("%q", text)
		}
	})
}

func TestDiskThatFillsUp(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		w := watch(t, 0)
		defer w.stop()
		for _, free := range []uint64{2e9, 999e6, 800e6, 1100e6, 999e6, 1300e6, 2e9} {
			w.free.Store(free)
			time.Sleep(lookEvery)
			synctest.Wait()
		}
		w.expect(t, "disk-low began, disk-low over")
	})
}

package logger

import (
	"fmt"
	"math/rand/v2"
	"os"
	"runtime"
	"testing"
	"time"

	"soakline/checks"
	"soakline/device"
	"soakline/device/scpi"
)

const (
	monthPoints = 16
	month       = 30 * 24 * time.Hour
	// monthBatch is how many steps are sent before the clock follows.
	monthBatch = 64
	// monthBytes is what a reading takes in the book, its time to 1 us, beside the
	// megabytes that a book of a month takes anyway.
	monthBytes = 4.0
)

// monthSettings is one place with sixteen test points, each read once in a step.
func monthSettings(t *testing.T, step time.Duration) Settings {
	settings := testSettings(t)
	check := testSheet().TestPoints[0].Checks[0]
	check.Every, check.FreshFor, check.Hold, check.Settle = step, 3*step, 2*step, 5*step
	sheet := testSheet()
	sheet.TestPoints, settings.Places[0].Connections = nil, nil
	for i := range monthPoints {
		name := checks.TestPointName(fmt.Sprintf("rail-%02d", i))
		sheet.TestPoints = append(sheet.TestPoints, checks.TestPoint{Name: name, Checks: []checks.Check{check}})
		settings.Places[0].Connections = append(settings.Places[0].Connections,
			Connection{TestPoint: name, Instrument: "meter", Channel: monthChannel(i)})
	}
	settings.Places = settings.Places[:1]
	settings.Sheets = []checks.Sheet{sheet}
	return settings
}

func monthChannel(i int) string { return fmt.Sprint(201 + i) }

// TestMonth soaks a unit for 30 days at sixteen test points in accelerated time. One
// rail leaves its limit for two hours on the twentieth day: that is the verdict, and
// nothing else is. Memory and goroutines on the last day are those of the second.
// SOAKLINE_MONTH=100ms reads ten times a second, 415 million readings; without it one
// a minute is read.
func TestMonth(t *testing.T) {
	step := time.Minute
	if text := os.Getenv("SOAKLINE_MONTH"); text != "" {
		var err error
		if step, err = time.ParseDuration(text); err != nil {
			t.Fatal(err)
		}
	}
	r := startRig(t, monthSettings(t, step)).run()
	soak := r.begin("B8-0147", "left", month)
	steps := int(month / step)
	left, back := soak.Begin.Add(20*24*time.Hour), soak.Begin.Add(20*24*time.Hour+2*time.Hour)
	var early, late runtime.MemStats
	earlyRoutines, lateRoutines := 0, 0
	began, chance := time.Now(), rand.New(rand.NewPCG(20260501, 0))
	for from := 0; from < steps; from += monthBatch {
		to := min(from+monthBatch, steps)
		for i := from; i < to; i++ {
			r.monthStep(soak.Begin.Add(time.Duration(i)*step), left, back, chance)
		}
		r.sync()
		r.clock.reach(soak.Begin.Add(time.Duration(to) * step))
		if from/monthBatch%32 == 0 {
			if err := r.writer.Flush(t.Context()); err != nil {
				t.Fatal(err)
			}
		}
		if at := time.Duration(from) * step; earlyRoutines == 0 && at > month/15 {
			earlyRoutines = r.measured(&early)
		} else if lateRoutines == 0 && at > month-month/30 { // before the verdict is given, which reads it all
			lateRoutines = r.measured(&late)
		}
	}
	if grown := int64(late.HeapAlloc) - int64(early.HeapAlloc); grown > 4<<20 {
		t.Errorf("28 days more took %d kB", grown>>10)
	}
	if lateRoutines > earlyRoutines+3 { // those of a commit come and go
		t.Errorf("%d goroutines became %d", earlyRoutines, lateRoutines)
	}
	r.clock.reach(soak.Begin.Add(month + 2*endGrace))
	verdict := (<-r.finished).Verdict
	checkMonth(t, verdict, steps, left, back)
	info, err := r.book.Info(t.Context())
	if err != nil || info.LostReadings != 0 || info.Readings < int64(monthPoints*(steps-1)) {
		t.Errorf("%d readings in the book, %d lost, %v", info.Readings, info.LostReadings, err)
	}
	each := float64(info.FileBytes+info.LogBytes) / float64(info.Readings)
	t.Logf("30 days, %d readings in %s; heap %d kB on day 2, %d kB on day 30; goroutines %d and %d; book %.2f bytes a reading",
		info.Readings, time.Since(began).Round(time.Second), early.HeapAlloc>>10, late.HeapAlloc>>10, earlyRoutines, lateRoutines, each)
	if room := monthBytes + 4e6/float64(info.Readings); each > room {
		t.Errorf("the book takes %.2f bytes a reading, want less than %.2f", each, room)
	}
	r.close()
}

// monthStep sends one reading of every test point, with the noise and the uneven times
// that readings have; the last one's rail sags for a while.
func (r *rig) monthStep(at, left, back time.Time, chance *rand.Rand) {
	for p := range monthPoints {
		at := at.Add(time.Duration(chance.IntN(2000)) * time.Microsecond)
		tenths := int64(50100 + chance.IntN(20)) // of a millivolt
		if p == monthPoints-1 && !at.Before(left) && at.Before(back) {
			tenths = 46000
		}
		digits := scpi.NewDecimal(tenths, -4)
		r.TakeReading("meter", monthChannel(p), device.Reading{Measure: device.DCVoltage, Value: digits.Float64(), Digits: digits, At: at})
	}
}

// measured reads the heap after a collection, with nothing waiting for the book, and
// returns how many goroutines run.
func (r *rig) measured(into *runtime.MemStats) int {
	r.t.Helper()
	if err := r.writer.Flush(r.t.Context()); err != nil {
		r.t.Fatal(err)
	}
	runtime.GC()
	runtime.GC()
	runtime.ReadMemStats(into)
	return runtime.NumGoroutine()
}

func checkMonth(t *testing.T, verdict checks.Verdict, steps int, left, back time.Time) {
	t.Helper()
	if verdict.Outcome != checks.Fail || len(verdict.Checks) != monthPoints {
		t.Fatalf("%s with %d checks: %v", verdict.Outcome, len(verdict.Checks), verdict.Reasons)
	}
	for i, check := range verdict.Checks {
		excursions := check.Excursions
		if i < monthPoints-1 {
			if len(excursions) > 0 || check.Evidence < 0.999 || check.Readings < steps-6 { // five are settling
				t.Errorf("%s: %d excursions, evidence %g, %d readings", check.Check, len(excursions), check.Evidence, check.Readings)
			}
			continue
		}
		if len(excursions) != 1 || excursions[0].From.Sub(left).Abs() > time.Hour || excursions[0].To.Sub(back).Abs() > time.Hour {
			t.Errorf("%s: %+v, want one from %v to %v", check.Check, excursions, left, back)
		}
	}
}

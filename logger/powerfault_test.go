package logger

import (
	"strings"
	"testing"
	"testing/synctest"
	"time"

	"soakline/checks"
)

// An output that can't be reached is said once, and nothing more is switched; the
// soak goes on, and what is missing is missing in its evidence.
func TestAnOutputThatCannotBeSwitched(t *testing.T) {
	settings := testSettings(t)
	sheet := testSheet()
	sheet.Soak.Cycles = &checks.CyclePlan{TestPoint: "rail-5v", Cycles: 2, On: 10 * time.Minute, Off: time.Minute}
	settings.Sheets = []checks.Sheet{sheet}
	synctest.Test(t, func(t *testing.T) {
		r := startRig(t, settings)
		r.options.ParseSheet = func(string, []byte) (checks.Sheet, error) { return sheet, nil }
		r = r.run()
		r.begin("B8-0147", "left", 0)
		time.Sleep(time.Minute)
		r.sync()
		told := 0
		for _, e := range r.events("meter") {
			if e.Kind == PowerCycled && strings.Contains(e.Text, "B8-0147: the unit could not be switched on, and is switched no more") {
				told++
			}
		}
		if told != 1 {
			t.Errorf("told %d times: %+v", told, r.events("meter"))
		}
		snapshot, err := r.Snapshot(t.Context())
		if err != nil || len(snapshot.Soaks) != 1 {
			t.Errorf("%d soaks, %v", len(snapshot.Soaks), err)
		}
		r.close()
	})
}

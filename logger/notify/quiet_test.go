package notify

import (
	"testing"
	"time"
)

func TestQuiet(t *testing.T) {
	zone, err := time.LoadLocation("Europe/Berlin")
	if err != nil {
		t.Fatal(err)
	}
	night, noon := &Quiet{From: 22 * time.Hour, To: 6 * time.Hour}, &Quiet{From: 12 * time.Hour, To: 13 * time.Hour}
	at := func(month time.Month, day, hour, minute int) time.Time {
		return time.Date(2026, month, day, hour, minute, 0, 0, zone)
	}
	for _, row := range []struct {
		name    string
		quiet   *Quiet
		at, end time.Time // the zero end: not quiet
	}{
		{"never", nil, at(7, 1, 23, 0), time.Time{}},
		{"before midnight", night, at(7, 1, 23, 0), at(7, 2, 6, 0)},
		{"after midnight", night, at(7, 2, 1, 0), at(7, 2, 6, 0)},
		{"exactly from", night, at(7, 1, 22, 0), at(7, 2, 6, 0)},
		{"exactly to", night, at(7, 2, 6, 0), time.Time{}},
		{"by day", night, at(7, 2, 12, 0), time.Time{}},
		{"within one day", noon, at(7, 2, 12, 30), at(7, 2, 13, 0)},
		{"before it", noon, at(7, 2, 11, 59), time.Time{}},
		// Clocks are put forward on 2026-03-29 and back on 2026-10-25 (Directive 2000/84/EC).
		{"the night when the clock is put forward", night, at(3, 28, 23, 0), at(3, 29, 6, 0)},
		{"the night when it is put back", night, at(10, 24, 23, 0), at(10, 25, 6, 0)},
	} {
		end, quiet := row.quiet.until(row.at)
		if quiet != !row.end.IsZero() || quiet && !end.Equal(row.end) {
			t.Errorf("%s: until %v, %v; want %v", row.name, end, quiet, row.end)
		}
	}
}

package drift

import (
	"math"
	"math/rand/v2"
	"testing"
	"time"
)

// course is ten hours of a simulated soak whose level follows a shape, in percent of
// the limit band, at a time in hours.
func course(t *testing.T, n noise, seed uint64, shape func(hours float64) float64) Result {
	t.Helper()
	v := make([]float64, int(10*3600/soakEvery))
	n.readings(v, rand.New(rand.NewPCG(seed, 41)))
	seconds := make([]float64, len(v))
	for i := range v {
		seconds[i] = float64(i) * soakEvery
		v[i] += shape(seconds[i] / 3600)
	}
	o := soakOptions()
	o.Baseline = time.Hour
	r, err := Analyse(seconds, v, o)
	if err != nil {
		t.Fatal(err)
	}
	return r
}

// A drift of 2 % of the band an hour that begins after five hours, until the limit
// at 50 %: the slope and the time left are those of the drift, not of the whole soak
// (simulated; a third of the band an hour would be the whole soak's line).
func TestDriftThatBeginsInMidSoak(t *testing.T) {
	for _, n := range []noise{{"white", 0, 0}, {"autocorrelated", 0.9, 0.2}} {
		const soaks, perHour, from = 100, 2.0, 5.0
		held, near, late := 0, 0, 0
		for seed := range soaks {
			r := course(t, n, uint64(seed), func(h float64) float64 { return perHour * max(0, h-from) })
			if r.SlopeLow <= perHour && perHour <= r.SlopeHigh {
				held++
			}
			if left := (50 - perHour*(10-from)) / perHour; math.Abs(r.HoursToLimit/left-1) < 0.1 {
				near++
			}
			if math.Abs(r.TrendSince/3600-from) < 1 && r.TrendSince == r.ChangeAt {
				late++
			}
		}
		t.Logf("%s: slope's interval holds the truth in %d of %d soaks, time left within a tenth in %d, begin within an hour in %d", n.name, held, soaks, near, late)
		if held < 80 || near < 95 || late < 90 {
			t.Errorf("%s: %d, %d and %d of %d", n.name, held, near, late, soaks)
		}
	}
}

// A drift from the first reading on is one line: the slope is of the whole record.
func TestDriftFromTheBeginIsOfTheWholeRecord(t *testing.T) {
	const soaks = 100
	whole := 0
	for seed := range soaks {
		r := course(t, noise{"white", 0, 0}, uint64(seed), func(h float64) float64 { return h })
		if math.IsNaN(r.TrendSince) && !math.IsNaN(r.ChangeAt) {
			whole++
		}
	}
	if whole < 97 {
		t.Errorf("the whole record in %d of %d soaks", whole, soaks)
	}
}

// A level that steps and stays has no trend afterwards, whatever a line over the
// whole record says.
func TestAStepIsNoTrend(t *testing.T) {
	const soaks = 100
	none := 0
	for seed := range soaks {
		r := course(t, noise{"white", 0, 0}, uint64(seed), func(h float64) float64 {
			if h < 4 {
				return 0
			}
			return 5
		})
		if r.Outlook == NoTrend && !math.IsNaN(r.TrendSince) && math.IsNaN(r.HoursToLimit) {
			none++
		}
	}
	if none < 90 {
		t.Errorf("no trend in %d of %d soaks", none, soaks)
	}
}

// Too few points since the change leave the whole record; so does a record without
// an alarm.
func TestTrendOfTheWholeRecord(t *testing.T) {
	r := course(t, noise{"white", 0, 0}, 1, func(float64) float64 { return 0 })
	if !math.IsNaN(r.TrendSince) || !math.IsNaN(r.ChangeAt) {
		t.Errorf("without an alarm: since %v", r.TrendSince)
	}
	if broken([]float64{0, 1, 2, 3, 4, 5}, []float64{0, 0, 0, 0, 1, 2}, 1) {
		t.Error("one point before the change parts a record")
	}
	if broken([]float64{1, 1, 1}, []float64{0, 1, 2}, 1) {
		t.Error("a record at one time is parted")
	}
	if !broken([]float64{0, 1, 2, 3, 4, 5, 6, 7, 8, 9}, []float64{0, 0, 0, 0, 0, 1, 2, 3, 4, 5}, 5) {
		t.Error("two exact lines are taken for one")
	}
}

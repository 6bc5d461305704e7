package drift

import (
	"math"
	"slices"
	"testing"
)

type handbookExample struct {
	ID, CSV string
	Params  struct{ Lam, Target, S, K, H float64 }
	Derived struct {
		UCLUnrounded float64   `json:"ucl_unrounded"`
		LCLUnrounded float64   `json:"lcl_unrounded"`
		HalfWidth    []float64 `json:"time_varying_half_width"`
	}
	Expected struct {
		SignalsHigh []int `json:"signals_high_i"`
	}
}

func handbook(t *testing.T, id string) handbookExample {
	t.Helper()
	var file struct{ Examples []handbookExample }
	readJSON(t, "handbook.json", &file)
	for _, e := range file.Examples {
		if e.ID == id {
			return e
		}
	}
	t.Fatalf("no example %q", id)
	return handbookExample{}
}

// TestEWMAOfTheHandbook: NIST/SEMATECH e-Handbook, 6.3.2.4 (T-20, T-21): 20 averages
// to two places, limits, and no alarm.
func TestEWMAOfTheHandbook(t *testing.T) {
	e := handbook(t, "ewma")
	data := columns(t, e.CSV)
	plan := EWMAPlan{Lambda: e.Params.Lam, Width: e.Params.K, Target: e.Params.Target, Sigma: e.Params.S}
	chart := NewEWMA(plan)
	plan.Early = true
	early := NewEWMA(plan)
	near(t, "upper limit", e.Params.Target+chart.HalfWidth(), e.Derived.UCLUnrounded, 1e-12)
	near(t, "lower limit", e.Params.Target-chart.HalfWidth(), e.Derived.LCLUnrounded, 1e-12)
	for i, x := range data["x"] {
		if chart.Add(x) || early.Add(x) {
			t.Errorf("alarm at %d; the handbook has none", i+1)
		}
		within(t, "average", chart.Average(), data["ewma_printed"][i], 0.005)
		near(t, "early half width", early.HalfWidth(), e.Derived.HalfWidth[i], 1e-9)
	}
}

// TestEWMAAtItsLimit: an average exactly on the limit is inside, beyond it outside.
func TestEWMAAtItsLimit(t *testing.T) {
	plan := EWMAPlan{Lambda: 1, Width: 3, Target: 0, Sigma: 1} // limits at 3
	for _, test := range []struct {
		x    float64
		want bool
	}{{3, false}, {-3, false}, {math.Nextafter(3, 4), true}, {-3.5, true}, {math.NaN(), false}} {
		chart := NewEWMA(plan)
		if got := chart.Add(test.x); got != test.want {
			t.Errorf("%v: alarm %v, want %v", test.x, got, test.want)
		}
	}
}

// TestEWMAOfNeighboursThatResemble: the spread of the average of a first order
// process, by the sum over all pairs of weights (closed form: Zhang 1998).
func TestEWMAOfNeighboursThatResemble(t *testing.T) {
	const lambda, phi = 0.2, 0.6
	variance := 0.0
	for i := range 300 {
		for j := range 300 {
			variance += lambda * lambda * math.Pow(1-lambda, float64(i+j)) * math.Pow(phi, math.Abs(float64(i-j)))
		}
	}
	chart := NewEWMA(EWMAPlan{Lambda: lambda, Width: 1, Sigma: 1, Autocorrelation: phi})
	near(t, "half width", chart.HalfWidth(), math.Sqrt(variance), 1e-12)
}

// TestCUSUMOfTheHandbook: NIST/SEMATECH e-Handbook, 6.3.2.3 (T-22): both sums of 20
// values, and alarms from the 14th on, upwards only.
func TestCUSUMOfTheHandbook(t *testing.T) {
	e := handbook(t, "cusum_tabular")
	data := columns(t, e.CSV)
	chart := NewCUSUM(e.Params.Target, e.Params.K, e.Params.H)
	var up []int
	for i, x := range data["x"] {
		switch chart.Add(x) {
		case 1:
			up = append(up, i+1)
		case -1:
			t.Errorf("alarm downwards at %d", i+1)
		}
		high, low := chart.Sums()
		within(t, "upper sum", high, data["s_hi_printed"][i], 0.0051)
		within(t, "lower sum", low, data["s_lo_printed"][i], 0.0051)
	}
	if !slices.Equal(up, e.Expected.SignalsHigh) {
		t.Errorf("alarms at %v, want %v", up, e.Expected.SignalsHigh)
	}
	if high, low := chart.Runs(); high != 8 || low != 0 {
		t.Errorf("sums left zero %d and %d values ago, want 8 (since item 13) and 0", high, low)
	}
}

func TestCUSUMDownwardsAndAtItsThreshold(t *testing.T) {
	chart := NewCUSUM(0, 1, 4)
	for i, want := range []int{0, 0, -1} {
		if got := chart.Add(-3); got != want { // sums 2, 4, 6
			t.Errorf("value %d: %d, want %d", i+1, got, want)
		}
	}
}

// TestReferenceIsChartedReadingByReading: with a given reference the monitor draws
// the handbook's CUSUM and alarms at the same reading.
func TestReferenceIsChartedReadingByReading(t *testing.T) {
	e := handbook(t, "cusum_tabular")
	x := columns(t, e.CSV)["x"]
	seconds := make([]float64, len(x))
	for i := range seconds {
		seconds[i] = float64(i + 1)
	}
	const sigma = 0.635
	r, err := Analyse(seconds, x, Options{
		Reference: &Reference{Target: e.Params.Target, Sigma: sigma},
		Slack:     e.Params.K / sigma, Threshold: e.Params.H / sigma,
	})
	if err != nil {
		t.Fatal(err)
	}
	if r.CUSUMAlarmAt != 14 || !r.HasBaseline {
		t.Errorf("alarm at reading %v, want 14", r.CUSUMAlarmAt)
	}
}

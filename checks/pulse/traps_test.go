package pulse_test

import (
	"errors"
	"math"
	"math/rand/v2"
	"testing"

	"soakline/checks/pulse"
)

func TestP40FlatRecord(t *testing.T) {
	for name, v := range map[string][]float64{
		"all equal":            {0.3, 0.3, 0.3, 0.3},
		"all zero":             {0, 0, 0},
		"one code of the step": {0.30, 0.3000001, 0.30},
	} {
		_, err := pulse.HistogramLevels(v, pulse.HistogramOptions{Step: 0.01})
		if !errors.Is(err, pulse.ErrNoTransition) {
			t.Errorf("%s: error %v, want no transition (P-40, common practice)", name, err)
		}
	}
	_, err := pulse.Transitions([]float64{0.3, 0.3}, 1, given(t, 0, 1))
	if !errors.Is(err, pulse.ErrNoTransition) {
		t.Errorf("transitions of a flat record: %v, want no transition (P-40)", err)
	}
}

func TestP41EdgeNearTheEnd(t *testing.T) {
	v := []float64{0, 0, 0, 0, 0, 0, 0, 0, 0.5, 1, 1.1}
	l := given(t, 0, 1)
	edge := only(t, v, 1, l)
	pre, post, err := pulse.Aberrations(v, 1, l, edge, pulse.AberrationOptions{})
	if err != nil {
		t.Fatal(err)
	}
	if pre.Truncated || !post.Truncated {
		t.Errorf("truncated before %v, after %v; want only after (P-41)", pre.Truncated, post.Truncated)
	}
	near(t, "overshoot in %", post.OvershootPercent, 10, 1e-9, "P-41")
	if post.ToSeconds != 10 {
		t.Errorf("region ends at %g, want at the last sample (P-41)", post.ToSeconds)
	}
}

// A sine on the level moves the mode to one of its extremes; its mean does not
// move. P-42: low-pass or gate first.
func TestP42SineOnTheLevel(t *testing.T) {
	var v []float64
	for i := range 4000 {
		v = append(v, 0, 1+0.2*math.Sin(2*math.Pi*float64(i)/17.3))
	}
	l, err := pulse.HistogramLevels(v, pulse.HistogramOptions{})
	if err != nil {
		t.Fatal(err)
	}
	if d := math.Abs(l.High - 1); d < 0.15 {
		t.Errorf("mode of a sine is %g from its mean; the trap of P-42 is gone, say so in the package comment", d)
	}
}

func TestP43FewCodes(t *testing.T) {
	const step = 0.02
	random := rand.New(rand.NewPCG(43, 1))
	var v []float64
	for i := range 4000 {
		state := 0.10 + 0.70*float64(i/500%2)
		v = append(v, step*math.Round((state+0.006*random.NormFloat64())/step))
	}
	l, err := pulse.HistogramLevels(v, pulse.HistogramOptions{Bins: 500, Step: step})
	if err != nil {
		t.Fatal(err)
	}
	if l.BinWidth < step-1e-12 {
		t.Errorf("bins of %g are narrower than one code of %g (P-43)", l.BinWidth, step)
	}
	near(t, "low", l.Low, 0.10, step/2, "P-43: within half a code")
	near(t, "high", l.High, 0.80, step/2, "P-43: within half a code")
}

func TestP44TieTakesTheLowestBin(t *testing.T) {
	v := []float64{0, 0.1, 0.9, 1.0}
	l, err := pulse.HistogramLevels(v, pulse.HistogramOptions{Bins: 10})
	if err != nil {
		t.Fatal(err)
	}
	near(t, "low", l.Low, 0.05, 1e-12, "P-44, lowest index")
	near(t, "high", l.High, 0.95, 1e-12, "P-44, lowest index")
}

func TestP45PercentOfAmplitude(t *testing.T) {
	v := []float64{0.05, 0.05, 0.05, 0.05, 0.05, 0.45, 0.85, 1.15, 1.05, 1.05, 1.05, 1.05}
	l := given(t, 0.05, 1.05)
	_, post, err := pulse.Aberrations(v, 1, l, only(t, v, 1, l), pulse.AberrationOptions{})
	if err != nil {
		t.Fatal(err)
	}
	near(t, "overshoot in %", post.OvershootPercent, 10, 1e-9, "P-45: 10 %, not 9.1 % of peak-to-peak")
}

// Noisy, quantised and tilted at once, on few samples: common practice, no source.
func TestRoughRecord(t *testing.T) {
	const step = 0.004
	random := rand.New(rand.NewPCG(7, 7))
	v := make([]float64, 120)
	for i := range v {
		x := 0.0
		if i >= 60 {
			x = 0.7
		}
		x += 0.0002*float64(i) + 0.005*random.NormFloat64()
		v[i] = step * math.Round(x/step)
	}
	l, err := pulse.HistogramLevels(v, pulse.HistogramOptions{Bins: 40, Step: step, Estimate: pulse.BinMean})
	if err != nil {
		t.Fatal(err)
	}
	near(t, "low", l.Low, 0.006, 0.012, "tilt 12 mV over the state")
	near(t, "high", l.High, 0.718, 0.012, "tilt 12 mV over the state")
	edge := only(t, v, 40*nanosecond, l)
	near(t, "t50 in ns", edge.T50/nanosecond, 59.5*40, 20, "between two samples")
}

func TestWrongInput(t *testing.T) {
	l := given(t, 0, 1)
	nan, inf := math.NaN(), math.Inf(1)
	rows := []struct {
		name string
		v    []float64
		dt   float64
		want error
	}{
		{"empty", nil, 1, pulse.ErrTooShort},
		{"one sample", []float64{1}, 1, pulse.ErrTooShort},
		{"NaN", []float64{0, nan, 1}, 1, pulse.ErrNotFinite},
		{"infinite", []float64{0, inf, 1}, 1, pulse.ErrNotFinite},
		{"interval 0", []float64{0, 1}, 0, pulse.ErrInterval},
		{"interval NaN", []float64{0, 1}, nan, pulse.ErrInterval},
		{"half way only", []float64{0, 0.5, 0}, 1, pulse.ErrNoTransition},
	}
	for _, row := range rows {
		if _, err := pulse.Transitions(row.v, row.dt, l); !errors.Is(err, row.want) {
			t.Errorf("%s: transitions say %v, want %v", row.name, err, row.want)
		}
		if _, err := pulse.HistogramLevels(row.v, pulse.HistogramOptions{}); len(row.v) < 2 && !errors.Is(err, row.want) {
			t.Errorf("%s: levels say %v, want %v", row.name, err, row.want)
		}
	}
	for _, pair := range [][2]float64{{1, 1}, {2, 1}, {nan, 1}, {0, inf}} {
		if _, err := pulse.GivenLevels(pair[0], pair[1]); err == nil {
			t.Errorf("levels %v are taken", pair)
		}
	}
	ringing := []float64{0, 1, 0.9, 1.1, 0.9, 1.1, 0.9}
	edge := only(t, ringing, 1, l)
	if s, err := pulse.SettlingSeconds(ringing, 1, l, edge, 2, 0); !errors.Is(err, pulse.ErrNotSettled) || !math.IsNaN(s) {
		t.Errorf("settling of an unsettled record: %g, %v", s, err)
	}
	if _, err := pulse.SettlingSeconds(nil, 1, l, edge, 2, 0); err == nil {
		t.Error("settling of an empty record succeeds")
	}
	if _, _, err := pulse.Aberrations(ringing[:1], 1, l, edge, pulse.AberrationOptions{}); err == nil {
		t.Error("aberrations of a transition outside the record succeed")
	}
}

// A burst of both edges: every transition has its edge and its order.
func TestTransitionsInOrder(t *testing.T) {
	v := []float64{0, 1, 1, 0.05, 0, 0.5, 0.2, 0, 1}
	all, err := pulse.Transitions(v, 1, given(t, 0, 1))
	if err != nil {
		t.Fatal(err)
	}
	want := []pulse.Edge{pulse.Rising, pulse.Falling, pulse.Rising}
	if len(all) != len(want) {
		t.Fatalf("%d transitions, want %d: half a transition is none", len(all), len(want))
	}
	for i, edge := range all {
		if edge.Edge != want[i] {
			t.Errorf("transition %d is %s, want %s", i, edge.Edge, want[i])
		}
	}
}

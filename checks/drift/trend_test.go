package drift

import (
	"encoding/json"
	"errors"
	"math"
	"testing"
)

type trendSet struct {
	ID, CSV  string
	Expected map[string]json.RawMessage
	AbsTol   map[string]float64 `json:"abs_tol"`
	Derived  map[string]float64
}

func (s trendSet) number(t *testing.T, name string) float64 {
	t.Helper()
	var x float64
	if err := json.Unmarshal(s.Expected[name], &x); err != nil {
		t.Fatalf("%s, %s: %v", s.ID, name, err)
	}
	return x
}

func trendExample(t *testing.T, id string) trendSet {
	t.Helper()
	var file struct{ Examples []trendSet }
	readJSON(t, "trend.json", &file)
	for _, e := range file.Examples {
		if e.ID == id {
			return e
		}
	}
	t.Fatalf("no example %q", id)
	return trendSet{}
}

type constructedFigures struct {
	MannKendall map[string]float64 `json:"mann_kendall"`
	OLS         map[string]float64
}

func constructedTrend(t *testing.T, key string) constructedFigures {
	t.Helper()
	var file struct {
		CapDrift map[string]json.RawMessage `json:"cap_drift"`
	}
	readJSON(t, "constructed.json", &file)
	var figures constructedFigures
	if err := json.Unmarshal(file.CapDrift[key], &figures); err != nil {
		t.Fatal(err)
	}
	return figures
}

// TestTrendExamplesOfTheGuidance: US EPA 530/R-09-007 (2009), Unified Guidance,
// Examples 17-6 (sulfate) and 17-7 (sodium).
func TestTrendExamplesOfTheGuidance(t *testing.T) {
	for _, id := range []string{"epa_sulfate", "epa_sodium"} {
		t.Run(id, func(t *testing.T) {
			want := trendExample(t, id)
			data := columns(t, want.CSV)
			mk := MannKendallOf(data["y"])
			if float64(mk.S) != want.Derived["S"] {
				t.Errorf("S = %d, want %v", mk.S, want.Derived["S"])
			}
			within(t, "var S", mk.Variance, want.Derived["var_S"], 1e-9)
			within(t, "Z", mk.Z, want.number(t, "z"), want.AbsTol["z"])
			within(t, "p", mk.PNormal, want.number(t, "p"), want.AbsTol["p"])
			ts, err := TheilSenOf(data["t"], data["y"], 0.95)
			if err != nil {
				t.Fatal(err)
			}
			within(t, "slope", ts.PerSecond, want.number(t, "slope"), want.AbsTol["slope"])
			within(t, "intercept", ts.Intercept, want.number(t, "intercept"), want.AbsTol["intercept"])
			var interval [2]float64
			if err := json.Unmarshal(want.Expected["slope_ci95"], &interval); err != nil {
				t.Fatal(err)
			}
			within(t, "low", ts.Low, interval[0], want.AbsTol["slope_ci95"])
			within(t, "high", ts.High, interval[1], want.AbsTol["slope_ci95"])
		})
	}
}

// TestTrendOfGreatLakesPrecipitation: US Department of Commerce and Army Corps of
// Engineers series 1900 to 1986; six tied pairs.
func TestTrendOfGreatLakesPrecipitation(t *testing.T) {
	want := trendExample(t, "precip_great_lakes")
	data := columns(t, want.CSV)
	for name := range data {
		if name != "year" {
			mk := MannKendallOf(data[name])
			if float64(mk.S) != want.Derived["S"] || mk.N != 87 {
				t.Errorf("S = %d of %d, want %v of 87", mk.S, mk.N, want.Derived["S"])
			}
			near(t, "var S", mk.Variance, want.Derived["var_S"], 1e-12)
			near(t, "Z", mk.Z, want.Derived["z"], 1e-6)
			near(t, "p", mk.P, want.Derived["p_continuity"], 1e-6)
			ts, err := TheilSenOf(data["year"], data[name], 0.95)
			if err != nil {
				t.Fatal(err)
			}
			near(t, "slope", ts.PerSecond, want.Derived["sen_slope"], 1e-6)
		}
	}
}

// TestTrendChecksWorkedByHand: T-23 to T-25, trend check and ties check.
func TestTrendChecksWorkedByHand(t *testing.T) {
	x := []float64{10, 12, 11, 13, 15, 14, 16}
	mk := MannKendallOf(x)
	if mk.S != 17 {
		t.Errorf("S = %d, want 17", mk.S)
	}
	within(t, "var S", mk.Variance, 44.3333, 5e-5)
	within(t, "Z", mk.Z, 2.403006, 5e-7)
	within(t, "normal p", mk.PNormal, 0.016261, 5e-7)
	near(t, "exact p", mk.P, 54.0/5040, 1e-14)
	ts, err := TheilSenOf([]float64{1, 2, 3, 4, 5, 6, 7}, x, 0.95)
	if err != nil {
		t.Fatal(err)
	}
	within(t, "slope", ts.PerSecond, 1, 1e-12)
	within(t, "low", ts.Low, 0.5, 1e-12)
	within(t, "high", ts.High, 2, 1e-12)

	ties := MannKendallOf([]float64{5, 5, 4, 4, 3, 3, 2})
	if ties.S != -18 {
		t.Errorf("with ties S = %d, want -18", ties.S)
	}
	within(t, "var S with ties", ties.Variance, 41.3333, 5e-5)
	within(t, "Z with ties", ties.Z, -2.644227, 5e-7)
	if ties.P != ties.PNormal {
		t.Error("the exact table holds without ties only")
	}
}

// TestTrendOfTheConstructedDrift: constructed data, computed twice by other code.
func TestTrendOfTheConstructedDrift(t *testing.T) {
	data := columns(t, "constructed_cap_drift.csv")
	for _, column := range []string{"c_uF", "esr_mohm"} {
		want := constructedTrend(t, column).MannKendall
		mk := MannKendallOf(data[column])
		near(t, column+" S", float64(mk.S), want["S"], 0)
		near(t, column+" var S", mk.Variance, want["var_S"], 1e-12)
		near(t, column+" p", mk.P, want["p"], 1e-9)
		ts, err := TheilSenOf(data["week"], data[column], 0.95)
		if err != nil {
			t.Fatal(err)
		}
		near(t, column+" slope", ts.PerSecond, want["sen_slope"], 1e-9)
		near(t, column+" intercept", ts.Intercept, want["sen_intercept"], 1e-9)
	}
}

// TestExactProbabilities: Kendall's table of small n, from memory; each is a count of
// orders over n factorial, which the first rows show by hand.
func TestExactProbabilities(t *testing.T) {
	tests := []struct {
		n, s int
		want float64
	}{
		{2, 1, 1}, {3, 3, 2.0 / 6}, {3, 1, 1}, {4, 6, 2.0 / 24}, {4, 4, 8.0 / 24}, {4, 0, 1},
		{5, 8, 2 * 0.042}, {8, 16, 2 * 0.031}, {10, 19, 2 * 0.054}, {10, -45, 2.0 / 3628800},
	}
	for _, test := range tests {
		within(t, "p", exactP(test.s, test.n), test.want, 1.001e-3*float64(test.n/5)+1e-14)
	}
}

func TestTrendOfNothingAndOfOneLevel(t *testing.T) {
	for _, v := range [][]float64{nil, {1}, {2, 2}, make([]float64, 30)} {
		if mk := MannKendallOf(v); mk.S != 0 || mk.Z != 0 || mk.P != 1 {
			t.Errorf("%d equal values: %+v, want no trend", len(v), mk)
		}
	}
	if _, err := TheilSenOf([]float64{1}, []float64{1}, 0.95); !errors.Is(err, ErrTooFew) {
		t.Errorf("one point: %v", err)
	}
	if _, err := TheilSenOf([]float64{4, 4}, []float64{1, 2}, 0.95); !errors.Is(err, ErrTooFew) {
		t.Errorf("two points at one time: %v", err)
	}
	if _, err := TheilSenOf([]float64{4}, []float64{1, 2}, 0.95); err == nil {
		t.Error("other lengths: no error")
	}
}

func TestInflatedTestIsLessSure(t *testing.T) {
	mk := MannKendallOf([]float64{1, 2, 3, 5, 4, 6, 7, 9, 8, 10, 11})
	for _, by := range []float64{math.NaN(), -1, 0.5, 1} {
		if mk.Inflated(by) != mk {
			t.Errorf("a factor of %v must change nothing", by)
		}
	}
	twice := mk.Inflated(4)
	near(t, "Z", twice.Z, mk.Z/2, 1e-15)
	if twice.P <= mk.P {
		t.Errorf("p = %v, want more than %v", twice.P, mk.P)
	}
}

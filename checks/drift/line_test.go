package drift

import (
	"errors"
	"math"
	"testing"
)

type linearSet struct {
	Name, CSV string
	Expected  map[string]float64
	RelTol    map[string]float64 `json:"rel_tol"`
}

// TestLineAgainstCertifiedValues: source NIST Statistical Reference Datasets, linear
// regression: Norris, and NoInt1 and NoInt2 through the origin.
func TestLineAgainstCertifiedValues(t *testing.T) {
	var file struct{ Datasets []linearSet }
	readJSON(t, "strd_linear.json", &file)
	if len(file.Datasets) != 3 {
		t.Fatalf("%d sets, want 3", len(file.Datasets))
	}
	for _, set := range file.Datasets {
		t.Run(set.Name, func(t *testing.T) {
			data := columns(t, set.CSV)
			fit, model := FitThroughOrigin, 1.0
			if _, has := set.Expected["b0"]; has {
				fit = FitLine
			}
			l, err := fit(data["x"], data["y"])
			if err != nil {
				t.Fatal(err)
			}
			meanSquare := l.SSResidual / float64(l.Freedom)
			got := map[string]float64{
				"b0": l.Intercept, "b0_sd": l.InterceptSE, "b1": l.Slope, "b1_sd": l.SlopeSE,
				"residual_sd": l.ResidualSD(), "r_squared": l.RSquared(),
				"ss_regression": l.SSRegression, "ss_residual": l.SSResidual,
				"ms_residual": meanSquare, "F": l.SSRegression / model / meanSquare,
			}
			for name, want := range set.Expected {
				share, has := set.RelTol[name]
				if !has {
					share = 1e-9
				}
				if all, has := set.RelTol["all"]; has {
					share = all
				}
				near(t, name, got[name], want, share)
			}
		})
	}
}

// TestLineOfTheWorkedExample: T-26, ordinary least squares, worked by hand.
func TestLineOfTheWorkedExample(t *testing.T) {
	l, err := FitLine([]float64{1, 2, 3, 4, 5, 6, 7}, []float64{10, 12, 11, 13, 15, 14, 16})
	if err != nil {
		t.Fatal(err)
	}
	within(t, "b", l.Slope, 0.928571, 5e-7)
	within(t, "a", l.Intercept, 9.285714, 5e-7)
	within(t, "SSE", l.SSResidual, 3.857143, 5e-7)
	within(t, "se(b)", l.SlopeSE, 0.165985, 5e-7)
	low, high := l.SlopeInterval(0.95)
	within(t, "low", low, 0.501893, 1e-6)
	within(t, "high", high, 1.355249, 1e-6)
}

// TestLineOfTheChlorideExample: US EPA 530/R-09-007 (2009), Example 17-5.
func TestLineOfTheChlorideExample(t *testing.T) {
	example := trendExample(t, "epa_chloride_ols")
	data := columns(t, example.CSV)
	l, err := FitLine(data["day"], data["y"])
	if err != nil {
		t.Fatal(err)
	}
	for name, got := range map[string]float64{
		"slope": l.Slope, "slope_se": l.SlopeSE, "t": l.Slope / l.SlopeSE,
		"intercept": l.Intercept, "intercept_se": l.InterceptSE,
	} {
		near(t, name, got, example.number(t, name), 2e-7)
	}
}

// TestLineOfTheConstructedDrift: constructed data, computed twice by other code.
func TestLineOfTheConstructedDrift(t *testing.T) {
	data := columns(t, "constructed_cap_drift.csv")
	for _, c := range []struct {
		column, key string
	}{{"c_uF", "c_uF"}, {"esr_mohm", "esr_mohm"}} {
		want := constructedTrend(t, c.key)
		l, err := FitLine(data["week"], data[c.column])
		if err != nil {
			t.Fatal(err)
		}
		near(t, c.key+" slope", l.Slope, want.OLS["slope"], 1e-9)
		near(t, c.key+" intercept", l.Intercept, want.OLS["intercept"], 1e-9)
		near(t, c.key+" slope se", l.SlopeSE, want.OLS["slope_se"], 1e-9)
		near(t, c.key+" residual sd", l.ResidualSD(), want.OLS["residual_sd"], 1e-9)
	}
}

func TestLineRefusesWhatItCannotFit(t *testing.T) {
	tests := []struct {
		name string
		x, y []float64
		few  bool
	}{
		{"nothing", nil, nil, true},
		{"two points", []float64{1, 2}, []float64{1, 2}, true},
		{"one time", []float64{3, 3, 3}, []float64{1, 2, 3}, true},
		{"other lengths", []float64{1, 2, 3}, []float64{1, 2}, false},
		{"a time that is no number", []float64{1, math.NaN(), 3}, []float64{1, 2, 3}, true},
	}
	for _, test := range tests {
		if _, err := FitLine(test.x, test.y); err == nil || errors.Is(err, ErrTooFew) != test.few {
			t.Errorf("%s: %v", test.name, err)
		}
	}
	if _, err := FitThroughOrigin([]float64{0, 0}, []float64{1, 2}); !errors.Is(err, ErrTooFew) {
		t.Errorf("through the origin, all at zero: %v", err)
	}
	if _, err := FitThroughOrigin([]float64{1}, []float64{1, 2}); err == nil {
		t.Error("through the origin, other lengths: no error")
	}
}

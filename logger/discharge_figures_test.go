package logger

import (
	"math"
	"slices"
	"testing"
	"time"

	"soakline/checks"
)

// TestAnalyseWatched: the capacitance comes out of a watched fall whose load is
// known, by the closed form W-30, C = tau/R with the usual meter's 10 Mohm beside
// it; a fall four times slower than expected is told of, one as expected is not.
func TestAnalyseWatched(t *testing.T) {
	for name, row := range map[string]struct {
		plan  checks.DischargePlan
		tau   float64
		farad float64
		slow  bool
	}{
		"load known":             {checks.DischargePlan{LoadOhms: 10e3, CapacitanceFarads: 2200e-6}, 22, 2200e-6, false},
		"bleeder open":           {checks.DischargePlan{LoadOhms: 10e3, CapacitanceFarads: 2200e-6}, 88, 8800e-6, true},
		"expected constant":      {checks.DischargePlan{ExpectedTau: 22 * time.Second}, 88, math.NaN(), true},
		"nothing known":          {checks.DischargePlan{}, 88, math.NaN(), false},
		"given goes before both": {checks.DischargePlan{LoadOhms: 10e3, CapacitanceFarads: 2200e-6, ExpectedTau: 88 * time.Second}, 88, 8800e-6, false},
	} {
		row.plan.BelowVolts = 2
		var seconds, volts []float64
		for s := 0.0; s < 4*row.tau; s += 0.5 {
			seconds = append(seconds, s)
			volts = append(volts, 12*math.Exp(-s/row.tau)+0.0005*math.Sin(7*s))
		}
		d, err := analyseWatched(seconds, volts, row.plan)
		if err != nil {
			t.Fatalf("%s: %v", name, err)
		}
		got := d.Capacitance.Value
		if math.IsNaN(got) != math.IsNaN(row.farad) || math.Abs(got/row.farad-1) > 0.01 {
			t.Errorf("%s: %g F, want %g", name, got, row.farad)
		}
		slow := slices.ContainsFunc(d.Findings, func(f checks.Finding) bool { return f.Code == "decays-slowly" })
		if slow != row.slow {
			t.Errorf("%s: slow is %v: %+v", name, slow, d.Findings)
		}
	}
}

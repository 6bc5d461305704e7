package checks_test

import (
	"errors"
	"math"
	"strings"
	"testing"

	"soakline/checks"
	"soakline/device"
)

// band is a limit with a guard band of ratio r.
func band(low, high, r float64) checks.Limit {
	return checks.Limit{
		Low: low, High: high, Nominal: math.NaN(), Source: "test",
		Guard: checks.GuardBand{Rule: checks.GuardBanded, Ratio: r},
	}
}

// simple is a limit that accepts up to itself.
func simple(low, high float64) checks.Limit {
	return checks.Limit{Low: low, High: high, Nominal: math.NaN(), Guard: checks.GuardBand{Rule: checks.Simple}}
}

func TestClassify(t *testing.T) {
	inf := math.Inf(1)
	fixed := simple(4.75, 5.25)
	fixed.Guard = checks.GuardBand{Rule: checks.GuardBanded, Width: 0.125}
	const lines = "ILAC-G8:09/2019, 4.2.3 (T-11)"
	for _, row := range []struct {
		source string
		limit  checks.Limit
		y, u   float64
		want   checks.State
		edge   checks.Edge
	}{
		{"micrometer case, inside", band(-0.003, 0.003, 1), 0.0017, 0.0005, checks.Within, checks.HighEdge},
		{"micrometer case, T-11 conditional pass", band(-0.003, 0.003, 1), 0.0025, 0.0005, checks.Borderline, checks.HighEdge},
		{lines + " on the acceptance limit", fixed, 5.125, 0, checks.Within, checks.HighEdge},
		{lines + " just past it", fixed, math.Nextafter(5.125, 6), 0, checks.Borderline, checks.HighEdge},
		{lines + " on the limit", fixed, 5.25, 0, checks.Borderline, checks.HighEdge},
		{lines + " conditional fail, at its end", fixed, 5.375, 0, checks.Borderline, checks.HighEdge},
		{lines + " fail", fixed, math.Nextafter(5.375, 6), 0, checks.Outside, checks.HighEdge},
		{lines + " low side, accepted", fixed, 4.875, 0, checks.Within, checks.LowEdge},
		{lines + " low side, conditional", fixed, 4.75, 0, checks.Borderline, checks.LowEdge},
		{lines + " low side, fail", fixed, 4.6, 0, checks.Outside, checks.LowEdge},
		{"ILAC-G8, 4.2.1: simple, on the limit", simple(4.75, 5.25), 5.25, 0.1, checks.Within, checks.HighEdge},
		{"ILAC-G8, 4.2.1: simple, past it", simple(4.75, 5.25), math.Nextafter(5.25, 6), 0.1, checks.Outside, checks.HighEdge},
		{"one-sided, low", band(4.75, inf, 1), 1e30, 0.01, checks.Within, checks.LowEdge},
		{"one-sided, low", band(4.75, inf, 1), 4.72, 0.01, checks.Outside, checks.LowEdge},
		{"one-sided, high", band(-inf, 0.05, 1), 0.045, 0.005, checks.Borderline, checks.HighEdge},
		{"no uncertainty given: no band", band(4.75, 5.25, 1), 5.25, 0, checks.Within, checks.HighEdge},
		{"uncertainty NaN: no band", band(4.75, 5.25, 1), 5.25, math.NaN(), checks.Within, checks.HighEdge},
		{"nothing left: never within, never outside", band(4.75, 5.25, 1), 9, 0.125, checks.Borderline, checks.HighEdge},
		{"infinite uncertainty decides nothing", band(4.75, inf, 1), 9, inf, checks.Borderline, checks.LowEdge},
		{"not a number", band(4.75, 5.25, 1), math.NaN(), 0.01, checks.Silent, ""},
	} {
		state, edge := row.limit.Classify(row.y, row.u)
		if state != row.want || edge != row.edge && !math.IsInf(row.u, 0) {
			t.Errorf("%s: %g ± %g is %s at %s, want %s at %s", row.source, row.y, row.u, state, edge, row.want, row.edge)
		}
	}
}

func TestAcceptanceInterval(t *testing.T) {
	for _, row := range []struct {
		source    string
		limit     checks.Limit
		u         float64
		low, high float64
		refused   bool
	}{
		{"bench case: 5 V rail, U 5.385664 mV", band(4.75, 5.25, 1), 0.002692832, 4.755385664, 5.244614336, false},
		{"micrometer case: U 0.0010 mm", band(-0.003, 0.003, 1), 0.0005, -0.002, 0.002, false},
		{"ILAC-G8, 4.1: simple acceptance, w = 0", simple(4.75, 5.25), 3, 4.75, 5.25, false},
		{"2 w just under the width", band(0, 1, 1), 0.2499, 0.4998, 0.5002, false},
		{"2 w on the width", band(0, 1, 1), 0.25, 0, 0, true},
		{"2 w above the width", band(0, 1, 1), 0.3, 0, 0, true},
	} {
		low, high, err := row.limit.AcceptanceInterval(row.u)
		if row.refused {
			if !errors.Is(err, checks.ErrNothingAccepted) || !math.IsNaN(low) || !math.IsNaN(high) {
				t.Errorf("%s: %g to %g, %v", row.source, low, high, err)
			}
			continue
		}
		if err != nil || math.Abs(low-row.low) > 1e-12 || math.Abs(high-row.high) > 1e-12 {
			t.Errorf("%s: %.9f to %.9f (%v), want %.9f to %.9f", row.source, low, high, err, row.low, row.high)
		}
	}
}

func TestShare(t *testing.T) {
	oneSided := simple(math.Inf(-1), 0.1)
	withNominal := oneSided
	withNominal.Nominal = 0.02
	lowOnly := checks.Limit{Low: 1, High: math.Inf(1), Nominal: 3}
	for _, row := range []struct {
		limit        checks.Limit
		figure, want float64
	}{
		{simple(4, 6), 5, 0}, {simple(4, 6), 6, 1}, {simple(4, 6), 4, 1}, {simple(4, 6), 3, 2}, {simple(4, 6), 5.5, 0.5},
		{withNominal, 0.06, 0.5}, {withNominal, 0.0, 0}, {oneSided, 0.06, math.NaN()},
		{lowOnly, 2, 0.5}, {lowOnly, 9, 0}, {simple(4, 6), math.NaN(), math.NaN()},
	} {
		if got := row.limit.Share(row.figure); math.Abs(got-row.want) > 1e-12 || math.IsNaN(got) != math.IsNaN(row.want) {
			t.Errorf("share of %g in %g to %g: %g, want %g", row.figure, row.limit.Low, row.limit.High, got, row.want)
		}
	}
}

func TestLimitValidate(t *testing.T) {
	nan, inf := math.NaN(), math.Inf(1)
	guard := func(g checks.GuardBand) checks.Limit { return checks.Limit{Low: 1, High: 2, Nominal: nan, Guard: g} }
	for _, row := range []struct {
		name  string
		limit checks.Limit
		want  string // "" is right; else every line's begin
	}{
		{"two-sided", band(4.75, 5.25, 1), ""},
		{"only low", simple(4.75, inf), ""},
		{"only high", simple(-inf, 5.25), ""},
		{"nominal on the limit", checks.Limit{Low: 1, High: 2, Nominal: 2, Guard: checks.GuardBand{Rule: checks.Simple}}, ""},
		{"low above high", simple(5.25, 4.75), "low_v: low limit 5.25 is not below the high limit 4.75"},
		{"low on high", simple(5, 5), "low_v: "},
		{"low NaN", simple(nan, 5), "low_v: "},
		{"high NaN", simple(5, nan), "high_v: "},
		{"low +Inf", simple(inf, inf), "low_v: "},
		{"high -Inf", simple(-inf, -inf), "high_v: "},
		{"no limit", simple(-inf, inf), "low_v: no limit"},
		{"nominal outside", checks.Limit{Low: 1, High: 2, Nominal: 3, Guard: checks.GuardBand{Rule: checks.Simple}}, "nominal_v: "},
		{"nominal infinite", checks.Limit{Low: 1, High: inf, Nominal: inf, Guard: checks.GuardBand{Rule: checks.Simple}}, "nominal_v: "},
		{"no rule", guard(checks.GuardBand{Ratio: 1}), "guard.rule: "},
		{"no width", guard(checks.GuardBand{Rule: checks.GuardBanded}), "guard.ratio: "},
		{"ratio NaN", guard(checks.GuardBand{Rule: checks.GuardBanded, Ratio: nan}), "guard.ratio: "},
		{"width negative", guard(checks.GuardBand{Rule: checks.Simple, Width: -1}), "guard.width_v: "},
		{"width takes all", guard(checks.GuardBand{Rule: checks.GuardBanded, Width: 0.5}), "guard.width_v: the guard bands leave nothing"},
		{"two at once", checks.Limit{Low: 2, High: 1, Nominal: nan, Guard: checks.GuardBand{Rule: "shared", Ratio: -1}}, "low_v: \nguard.rule: \nguard.ratio: "},
	} {
		t.Run(row.name, func(t *testing.T) { wantLines(t, row.limit.Validate(device.Volt), row.want) })
	}
}

// wantLines compares an error's lines with the beginnings wanted.
func wantLines(t *testing.T, err error, want string) {
	t.Helper()
	if err == nil || want == "" {
		if (err == nil) != (want == "") {
			t.Errorf("got %v, want %q", err, want)
		}
		return
	}
	lines, wants := strings.Split(err.Error(), "\n"), strings.Split(want, "\n")
	if len(lines) != len(wants) {
		t.Errorf("got\n%v\nwant\n%s", err, want)
		return
	}
	for i := range lines {
		if !strings.HasPrefix(lines[i], wants[i]) {
			t.Errorf("got %q, want it to begin %q", lines[i], wants[i])
		}
	}
}

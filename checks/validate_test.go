package checks_test

import (
	"errors"
	"math"
	"testing"
	"time"

	"soakline/checks"
	"soakline/device"
)

func TestSheetValidate(t *testing.T) {
	type sheet = *checks.Sheet
	first := func(s sheet) *checks.Check { return &s.TestPoints[0].Checks[0] }
	second := func(s sheet) *checks.Check { return &s.TestPoints[1].Checks[0] }
	const at = "test_points[0].checks[0]."
	for _, row := range []struct {
		name   string
		change func(sheet)
		want   string
	}{
		{"right", func(sheet) {}, ""},
		{"no console without a video system either", func(s sheet) { s.VideoSystem, s.Console = "", "" }, "console: "},
		{"no name", func(s sheet) { s.Name = "" }, "name: "},
		{"unknown system", func(s sheet) { s.VideoSystem = "819/50" }, "video_system: "},
		{"no test points", func(s sheet) { s.TestPoints = nil }, "test_points: "},
		{"nameless test point", func(s sheet) { s.TestPoints[1].Name = "" }, "test_points[1].name: "},
		{"test point twice", func(s sheet) { s.TestPoints[1].Name = "rail-5v"; second(s).Against = checks.Reference{} },
			"test_points[1].name: test point \"rail-5v\" is there already, as test_points[0]"},
		{"nothing to check", func(s sheet) { s.TestPoints[0].Checks = nil }, "test_points[0].checks: "},
		{"measure twice", func(s sheet) { s.TestPoints[0].Checks = append(s.TestPoints[0].Checks, *first(s)) },
			"test_points[0].checks[1].measure: \"dc-voltage\" is checked already, as checks[0]"},
		{"unknown measure", func(s sheet) { first(s).Measure = "dc-volts" }, at + "measure: unknown measure \"dc-volts\""},
		{"low above high", func(s sheet) { first(s).Limit.Low = 6 }, at + "limit.low_v: low limit 6 is not below the high limit 5.25"},
		{"no limit", func(s sheet) { first(s).Limit.Low, first(s).Limit.High = math.Inf(-1), math.Inf(1) }, at + "limit.low_v: no limit"},
		{"suffix of the unit", func(s sheet) { first(s).Measure = device.Frequency; first(s).Limit.High = math.NaN() }, at + "limit.high_hz: "},
		{"nominal outside", func(s sheet) { first(s).Limit.Nominal = 7 }, at + "limit.nominal_v: "},
		{"guard ratio", func(s sheet) { first(s).Limit.Guard.Ratio = -1 }, at + "limit.guard.ratio: "},
		{"guard width", func(s sheet) { first(s).Limit.Guard.Width = 0.25 }, at + "limit.guard.width_v: "},
		{"every negative", func(s sheet) { first(s).Every = -1 }, at + "every: "},
		{"hold negative", func(s sheet) { first(s).Hold = -1 }, at + "hold: "},
		{"settle negative", func(s sheet) { first(s).Settle = -1 }, at + "settle: "},
		{"never fresh", func(s sheet) { first(s).FreshFor = 0 }, at + "fresh_for: "},
		{"fresh for less than every", func(s sheet) { first(s).FreshFor = 999 * time.Millisecond }, at + "fresh_for: 999ms is shorter than every 1s"},
		{"fresh for as long as every", func(s sheet) { first(s).FreshFor = time.Second }, ""},
		{"hysteresis negative", func(s sheet) { first(s).Hysteresis = -0.1 }, at + "hysteresis_v: "},
		{"hysteresis NaN", func(s sheet) { first(s).Hysteresis = math.NaN() }, at + "hysteresis_v: "},
		{"hysteresis takes all", func(s sheet) { first(s).Hysteresis = 0.25 }, at + "hysteresis_v: "},
		{"drift watched", func(s sheet) { first(s).Drift = &checks.DriftPlan{Baseline: time.Microsecond} }, ""},
		{"drift before the beginning", func(s sheet) { first(s).Drift = &checks.DriftPlan{WarmUp: -1, Baseline: time.Hour} }, at + "drift.warm_up: "},
		{"drift from nothing", func(s sheet) { first(s).Drift = &checks.DriftPlan{} }, at + "drift.baseline: "},
		{"drift by NaN", func(s sheet) { first(s).Drift = &checks.DriftPlan{Baseline: time.Hour, SmallestShift: math.NaN()} }, at + "drift.smallest_shift_v: "},
		{"drift of a difference", func(s sheet) { second(s).Drift = &checks.DriftPlan{Baseline: time.Hour} },
			"test_points[1].checks[0].drift.baseline: drift is watched in the reading itself"},
		{"against nothing", func(s sheet) { second(s).Against.TestPoint = "rail-12v" },
			"test_points[1].checks[0].against.test_point: there is no test point \"rail-12v\""},
		{"against itself", func(s sheet) { second(s).Against.TestPoint = "rail-5v-far" }, "test_points[1].checks[0].against.test_point: "},
		{"against another unit", func(s sheet) { second(s).Against.Measure = device.Frequency }, "test_points[1].checks[0].against.measure: "},
		{"against an unknown measure", func(s sheet) { second(s).Against.Measure = "x" }, "test_points[1].checks[0].against.measure: "},
		{"against both", func(s sheet) { second(s).Against.Baseline = true }, "test_points[1].checks[0].against.test_point: "},
		{"baseline without time", func(s sheet) { second(s).Against = checks.Reference{Baseline: true} },
			"test_points[1].checks[0].against.baseline_for: "},
		{"baseline time without baseline", func(s sheet) { second(s).Against.BaselineFor = time.Second },
			"test_points[1].checks[0].against.baseline_for: "},
		{"measure without test point", func(s sheet) { second(s).Against = checks.Reference{Measure: device.Ripple} },
			"test_points[1].checks[0].against.measure: "},
		{"soak without duration", func(s sheet) { s.Soak.Duration = 0 }, "soak.duration: "},
		{"evidence above 1", func(s sheet) { s.Soak.EvidenceAtLeast = 1.5 }, "soak.evidence_at_least_pct: 150 %"},
		{"evidence NaN", func(s sheet) { s.Soak.EvidenceAtLeast = math.NaN() }, "soak.evidence_at_least_pct: "},
		{"gap negative", func(s sheet) { s.Soak.LongestGap = -1 }, "soak.longest_gap: "},
		{"all at once", func(s sheet) { s.Name = ""; first(s).Hold = -1; s.Soak.Duration = -1 },
			"name: \n" + at + "hold: \nsoak.duration: "},
	} {
		t.Run(row.name, func(t *testing.T) {
			s := benchSheet()
			row.change(&s)
			wantLines(t, s.Validate(), row.want)
		})
	}
}

func TestPathError(t *testing.T) {
	s := benchSheet()
	s.TestPoints[0].Checks[0].Limit.Guard.Width = 1
	err := s.Validate()
	place, ok := errors.AsType[*checks.PathError](err)
	if !ok || place.Path != "test_points[0].checks[0].limit.guard.width_v" || !errors.Is(err, checks.ErrNothingAccepted) {
		t.Errorf("got %#v", err)
	}
}

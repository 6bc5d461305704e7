package checks_test

import (
	"math"
	"testing"
	"time"

	"soakline/checks"
	"soakline/device"
)

// stepSheet has a final test with a step of each kind, all of them right.
func stepSheet() checks.Sheet {
	s := benchSheet()
	s.TestPoints[0].Discharge = &checks.DischargePlan{BelowVolts: 2, WatchFor: time.Minute}
	s.TestPoints[0].About, s.TestPoints[0].Connect, s.TestPoints[0].Caution = "5 V rail", "meter at the regulator", "Stored charge."
	s.Final = checks.FinalPlan{AgainAtMost: 1, Steps: []checks.FinalStep{
		{Name: "rail", Kind: checks.StepMeasure, TestPoint: "rail-5v", Repeats: 1,
			Settling: checks.StepSettling{Measure: device.DCVoltage, Spread: 0.01, For: time.Second, Within: time.Minute}},
		{Name: "far", Kind: checks.StepMeasure, TestPoint: "rail-5v-far", Repeats: 3, After: []checks.StepName{"rail"}},
		{Name: "picture", Kind: checks.StepQuestion, Sense: checks.Look, Question: "Is it still?", PassesWith: checks.Yes},
		{Name: "soak", Kind: checks.StepSoak},
		{Name: "pause", Kind: checks.StepWait, Wait: time.Second},
		{Name: "empty", Kind: checks.StepDischarge, TestPoint: "rail-5v", Caution: "Keep off."},
	}}
	return s
}

// TestFinalValidate: a final test that could never be passed, or that asks for what
// nothing gives, is refused with the place of the mistake.
func TestFinalValidate(t *testing.T) {
	type plan = *checks.FinalPlan
	for _, row := range []struct {
		name   string
		change func(s *checks.Sheet, f plan)
		want   string
	}{
		{"right", func(*checks.Sheet, plan) {}, ""},
		{"again below never", func(_ *checks.Sheet, f plan) { f.AgainAtMost = -1 }, "final.again_at_most: "},
		{"nameless", func(_ *checks.Sheet, f plan) { f.Steps[3].Name = "" }, "final.steps[3].name: the step has no name"},
		{"twice", func(_ *checks.Sheet, f plan) { f.Steps[3].Name = "rail" }, "final.steps[3].name: step \"rail\" is there already, as steps[0]"},
		{"after a later one", func(_ *checks.Sheet, f plan) { f.Steps[0].After = []checks.StepName{"far"} }, "final.steps[0].after[0]: there is no step \"far\" before"},
		{"after itself", func(_ *checks.Sheet, f plan) { f.Steps[1].After = []checks.StepName{"far"} }, "final.steps[1].after[0]: "},
		{"does nothing", func(_ *checks.Sheet, f plan) { f.Steps[3].Kind = "" },
			"final.steps[3].name: step \"soak\" does nothing: give it one of measure, soak, discharge, question, wait"},

		{"a rule of its own", func(_ *checks.Sheet, f plan) { f.Decision.Rule = "majority" }, "final.decision.rule: unknown decision rule \"majority\""},
		{"guard band of nothing", func(_ *checks.Sheet, f plan) { f.Decision.Rule = checks.GuardBanded }, "final.decision.ratio: "},
		{"guard band of U", func(_ *checks.Sheet, f plan) { f.Decision = checks.FinalDecision{Rule: checks.GuardBanded, Ratio: 1} }, ""},
		{"guard band without end", func(_ *checks.Sheet, f plan) {
			f.Decision = checks.FinalDecision{Rule: checks.GuardBanded, Ratio: math.Inf(1)}
		}, "final.decision.ratio: "},
		{"shared risk of anything", func(_ *checks.Sheet, f plan) { f.Decision.Rule = checks.SharedRisk }, "final.decision.uncertainty_at_most_pct: 0 %"},
		{"shared risk of all", func(_ *checks.Sheet, f plan) {
			f.Decision = checks.FinalDecision{Rule: checks.SharedRisk, UncertaintyAtMost: 1}
		}, ""},

		{"measured nowhere", func(_ *checks.Sheet, f plan) { f.Steps[0].TestPoint = "shelf" },
			"final.steps[0].measure: there is no test point \"shelf\"\nfinal.steps[1].measure: rail-5v-far dc-voltage is compared with rail-5v dc-voltage, which no step measures"},
		{"not at all", func(_ *checks.Sheet, f plan) { f.Steps[0].Repeats = 0 }, "final.steps[0].repeats: "},
		{"what is not checked there", func(_ *checks.Sheet, f plan) { f.Steps[1].Measures = []device.Measure{device.Ripple} },
			"final.steps[1].only[0]: test point \"rail-5v-far\" does not check ripple"},
		{"against the beginning of a soak", func(s *checks.Sheet, f plan) {
			s.TestPoints[1].Checks[0].Against = checks.Reference{Baseline: true, BaselineFor: time.Second}
			f.Steps[1].Measures = []device.Measure{device.DCVoltage}
		}, "final.steps[1].only[0]: dc-voltage is compared with the beginning of a soak"},
		{"nothing that one reading can tell", func(s *checks.Sheet, _ plan) {
			s.TestPoints[1].Checks[0].Against = checks.Reference{Baseline: true, BaselineFor: time.Second}
		}, "final.steps[1].measure: test point \"rail-5v-far\" has nothing"},
		{"compared with what is not read", func(_ *checks.Sheet, f plan) { f.Steps[0].Kind, f.Steps[0].Wait = checks.StepWait, time.Second },
			"final.steps[1].measure: rail-5v-far dc-voltage is compared with rail-5v dc-voltage, which no step measures"},

		{"settles by what is not taken", func(_ *checks.Sheet, f plan) { f.Steps[0].Settling.Measure = device.Ripple }, "final.steps[0].settling.measure: "},
		{"settles within nothing", func(_ *checks.Sheet, f plan) { f.Steps[0].Settling.Spread = 0 }, "final.steps[0].settling.spread_v: "},
		{"settles at once", func(_ *checks.Sheet, f plan) { f.Steps[0].Settling.For = 0 }, "final.steps[0].settling.for: "},
		{"has no time to settle", func(_ *checks.Sheet, f plan) { f.Steps[0].Settling.Within = time.Second }, "final.steps[0].settling.within: 1s is not longer than the 1s"},

		{"asks nothing", func(_ *checks.Sheet, f plan) { f.Steps[2].Question = "" }, "final.steps[2].question: "},
		{"smells", func(_ *checks.Sheet, f plan) { f.Steps[2].Sense = "smell" }, "final.steps[2].sense: "},
		{"passes with perhaps", func(_ *checks.Sheet, f plan) { f.Steps[2].PassesWith = "perhaps" }, "final.steps[2].passes_with: "},
		{"a soak of the future", func(_ *checks.Sheet, f plan) { f.Steps[3].Soak.NotOlder = -1 }, "final.steps[3].soak: "},
		{"waits for nothing", func(_ *checks.Sheet, f plan) { f.Steps[4].Wait = 0 }, "final.steps[4].wait: "},
		{"empties nothing", func(_ *checks.Sheet, f plan) { f.Steps[5].TestPoint = "shelf" }, "final.steps[5].discharge: there is no test point \"shelf\""},
		{"empties what is no capacitor", func(_ *checks.Sheet, f plan) { f.Steps[5].TestPoint = "rail-5v-far" },
			"final.steps[5].discharge: test point \"rail-5v-far\" has no discharge section"},
	} {
		t.Run(row.name, func(t *testing.T) {
			s := stepSheet()
			row.change(&s, &s.Final)
			wantLines(t, s.Validate(), row.want)
		})
	}
}

// TestFinalSteps: a question and a discharge need a person; what a step does not say
// its test point says.
func TestFinalSteps(t *testing.T) {
	s := stepSheet()
	for _, step := range s.Final.Steps {
		want := step.Kind == checks.StepQuestion || step.Kind == checks.StepDischarge
		if step.NeedsPerson() != want {
			t.Errorf("%s needs a person: %t", step.Name, step.NeedsPerson())
		}
		if found, ok := s.Final.Step(step.Name); !ok || found.Kind != step.Kind {
			t.Errorf("step %s is not found", step.Name)
		}
	}
	if _, ok := s.Final.Step("no such step"); ok {
		t.Error("a step that is not there is found")
	}
	empty, _ := s.Final.Step("empty")
	if about, connect, caution := s.FinalTexts(empty); about != "5 V rail" || connect != "meter at the regulator" || caution != "Keep off." {
		t.Errorf("got %q, %q, %q", about, connect, caution)
	}
}

package logger_test

import (
	"math"
	"slices"
	"strconv"
	"strings"
	"testing"

	"soakline/checks"
	"soakline/device"
	"soakline/logger"
)

// TestTrialOfAudio tries three mixing resistors of the right channel, whose level is as
// 56 kohm over the resistor (A-40: an input's gain is Rf/Ri). The tone is 0.316 V on
// the left and 0.309 V on the right, so that left over right is 1.0227 R/56k, A-26.
func TestTrialOfAudio(t *testing.T) {
	t.Parallel()
	s := newSimulated(t, withAudio, func(settings *logger.Settings) {
		settings.Sheets[0].Trial = []checks.Criterion{{TestPoint: "audio-left", Measure: device.ChannelBalance, Aim: checks.NearestNominal},
			{TestPoint: "audio-left", Measure: device.Hum, Aim: checks.Least}, {TestPoint: "audio-right", Measure: device.CrestFactor, Aim: checks.AtMost, Bound: 1.5}}
	})
	trial, err := s.BeginTrial(t.Context(), logger.TrialRequest{Unit: "B8-0147", Part: "R31", CandidateUnit: "ohms"})
	if err != nil {
		t.Fatal(err)
	}
	candidates := []float64{47e3, 56e3, 68e3}
	for _, r := range candidates {
		s.fault(t, "B8-0147", "clear")
		s.fault(t, "B8-0147", "hot", "audio-right", strconv.FormatFloat(56e3/r, 'g', -1, 64))
		s.takeRound(t, logger.RoundRequest{Label: logger.TrialLabel(trial.ID, strconv.FormatFloat(r, 'f', 0, 64)+" ohm"), Trial: trial.ID, Candidate: r})
	}
	if err := s.EndTrial(t.Context(), trial.ID, 56e3); err != nil {
		t.Fatal(err)
	}
	result, err := logger.TrialFromBook(t.Context(), s.Book(), "B8-0147", trial.ID, s.ParseSheet)
	if err != nil {
		t.Fatal(err)
	}
	if order := result.Ranking.Order; len(order) != 3 || order[0][0] != 1 || order[1][0] != 0 || order[2][0] != 2 {
		t.Errorf("order %v, want 56 kohm, 47 kohm, 68 kohm", order)
	}
	for i, r := range candidates {
		want := 0.316 / 0.309 * r / 56e3
		if got := result.Candidates[i].Figures[0].Value; math.Abs(20*math.Log10(got/want)) > 0.05 {
			t.Errorf("%g ohm: balance %g, want %g within 0.05 dB", r, got, want)
		}
		if crest := result.Candidates[i].Figures[2].Value; math.Abs(crest-math.Sqrt2) > 0.05 {
			t.Errorf("%g ohm: crest factor %g, want a sine's %g (A-10)", r, crest, math.Sqrt2)
		}
	}
	if keeps := result.Ranking.ByTarget[2].Keeps; !keeps[0] || !keeps[1] || !keeps[2] {
		t.Errorf("keeps to the crest factor's bound: %v", keeps)
	}
}

// TestFinalOfAudio takes the audio outputs as steps of a final test: a good unit
// passes, one whose tone drops out for 25 ms fails, and the book says the same again.
func TestFinalOfAudio(t *testing.T) {
	t.Parallel()
	s := newSimulated(t, withAudio, func(settings *logger.Settings) {
		settings.Sheets[0].Final = checks.FinalPlan{AgainAtMost: 2, Steps: []checks.FinalStep{
			{Name: "left", Kind: checks.StepMeasure, TestPoint: "audio-left", Repeats: 2, Causes: []string{"a bad joint"},
				Measures: []device.Measure{device.ACVoltage, device.ChannelBalance, device.HarmonicDistortion, device.Dropout}},
			{Name: "right", Kind: checks.StepMeasure, TestPoint: "audio-right"},
		}}
	})
	for _, row := range []struct {
		fault  []string
		want   checks.Outcome
		reason string
	}{
		{nil, checks.Pass, ""},
		{[]string{"mute", "audio-left", "0.1"}, checks.Fail, "audio-left dropout is outside"},
		{[]string{"hot", "audio-right", "0.2"}, checks.Fail, "audio-left channel-balance is outside: 5.1"},
	} {
		s.fault(t, "B8-0147", "clear")
		if row.fault != nil {
			s.fault(t, "B8-0147", row.fault[0], row.fault[1:]...)
		}
		if _, err := s.BeginFinal(t.Context(), logger.FinalRequest{Unit: "B8-0147"}); err != nil {
			t.Fatal(err)
		}
		for _, step := range []checks.StepName{"left", "right"} {
			if _, err := s.TakeStep(t.Context(), logger.StepRequest{Unit: "B8-0147", Step: step}, nil); err != nil {
				t.Fatal(err)
			}
		}
		status, err := s.EndFinal(t.Context(), "B8-0147")
		if err != nil {
			t.Fatal(err)
		}
		v := status.Verdict
		if v.Outcome != row.want || row.reason != "" && !slices.ContainsFunc(v.Reasons, func(r checks.StepReason) bool { return strings.Contains(r.Text, row.reason) }) || len(v.Steps[0].Figures) != 4 || v.Steps[0].Figures[0].Repeats != 2 {
			t.Errorf("%v: %s, %+v", row.fault, v.Outcome, v.Reasons)
		}
		again, err := logger.JudgeFinalFromBook(t.Context(), s.Book(), status.Final.ID, status.Sheet)
		if err != nil || len(checks.FinalChanges(v, again)) != 0 {
			t.Errorf("%v: judged again %s (%v)", row.fault, again.Outcome, err)
		}
	}
}

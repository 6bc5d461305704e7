package logger_test

import (
	"errors"
	"math"
	"strings"
	"testing"
	"time"

	"soakline/checks"
	"soakline/device"
	"soakline/logger"
	"soakline/logger/book"
)

func lineOf(t *testing.T, c logger.Comparison, point checks.TestPointName, m device.Measure) logger.ComparisonLine {
	t.Helper()
	for _, line := range c.Lines {
		if line.Check == (checks.CheckKey{TestPoint: point, Measure: m}) {
			return line
		}
	}
	t.Fatalf("the comparison has no %s %s", point, m)
	return logger.ComparisonLine{}
}

// TestRoundsFindWhatWasChanged takes a round, changes the console's output stage
// by known amounts, and takes another: the change has the right sign and size, and
// what was not changed shows no change. The amounts are the simulated console's
// own (its stage is second order with the given overshoot); the tolerances are
// those that the analysis promises: 1 % of 1 V, 1.5 points of overshoot.
func TestRoundsFindWhatWasChanged(t *testing.T) {
	t.Parallel()
	s := newSimulated(t)
	before, _ := s.takeRound(t, logger.RoundRequest{Label: "as received", Candidate: math.NaN()})
	s.fault(t, "B8-0147", "hot", "composite", "1.2")
	s.fault(t, "B8-0147", "ring", "composite", "5e6", "0.12")
	after, reports := s.takeRound(t, logger.RoundRequest{Label: "output stage changed", Candidate: math.NaN()})
	c := logger.Compare(simulatedSheet(), before, after)

	level := lineOf(t, c, "composite", device.LumaPeakToPeak)
	if want := 0.2 * 0.99; !level.Told || math.Abs(level.Change-want) > 0.01 || level.Meaning() != "now outside" {
		t.Errorf("level changed by %.4f V, told %v, %q; want %.4f V, now outside", level.Change, level.Told, level.Meaning(), want)
	}
	if level.ChangeU <= 0 || level.ChangeU > 0.005 {
		t.Errorf("standard uncertainty of the change %g V", level.ChangeU)
	}
	overshoot := lineOf(t, c, "composite", device.Overshoot)
	if !overshoot.Told || overshoot.Change < 0.06 || overshoot.Change > 0.13 {
		t.Errorf("overshoot changed by %.4f (told %v), want a rise to about 0.1", overshoot.Change, overshoot.Told)
	}
	rail := lineOf(t, c, "rail-5v", device.DCVoltage)
	if rail.Told || math.Abs(rail.After.Figure-5.017) > 0.002 || !rail.OneInstrument {
		t.Errorf("rail: %+v, want no change about 5.017 V", rail)
	}
	if !strings.HasPrefix(rail.ChangeText(), "no change that can be told (± ") {
		t.Errorf("rail: %q", rail.ChangeText())
	}
	var codes []string
	for _, f := range reports["composite"].Findings {
		codes = append(codes, string(f.Code))
	}
	if found := strings.Join(codes, " "); !strings.Contains(found, "level-high") || !strings.Contains(found, "overshoot") {
		t.Errorf("findings %q, want level-high and overshoot among them", found)
	}
}

// TestRoundKeepsWhatItFound looks at all that a round leaves in the book.
func TestRoundKeepsWhatItFound(t *testing.T) {
	t.Parallel()
	s := newSimulated(t)
	round, reports := s.takeRound(t, logger.RoundRequest{Label: "as received", Candidate: math.NaN()})
	for point, report := range reports {
		if report.Trouble != nil {
			t.Errorf("%s: %v", point, report.Trouble)
		}
	}
	found := map[string]book.RoundReading{}
	for _, r := range round.Readings {
		found[string(r.TestPoint)+" "+string(r.Measure)] = r
		if !(r.StandardUncertainty > 0) || r.Instrument == "" || r.At.Before(round.Begin) {
			t.Errorf("%s %s: uncertainty %g, instrument %q, at %v", r.TestPoint, r.Measure, r.StandardUncertainty, r.Instrument, r.At)
		}
	}
	if r := found["rail-5v dc-voltage"]; r.Averaged != 5 {
		t.Errorf("the rail is the mean of %d readings, want 5", r.Averaged)
	}
	// The clause alone gives (0.015 % of 5.017 V + 0.004 % of 10 V) / sqrt(3) =
	// 0.67 mV (JCGM 100:2008, 4.3.7); scatter only adds to it.
	if u := found["rail-5v dc-voltage"].StandardUncertainty; u < 0.66e-3 || u > 1.2e-3 {
		t.Errorf("standard uncertainty of the rail %g V, want 0.67 mV and a little", u)
	}
	// What no check asks for is kept as well, and what trial criteria name.
	for _, name := range []string{"composite bandwidth", "composite blanking", "composite rise", "case temperature"} {
		if _, ok := found[name]; !ok {
			t.Errorf("the round has no %s", name)
		}
	}
	captures, err := s.Book().RoundCaptures(t.Context(), round.ID)
	if err != nil || len(captures) != 16 {
		t.Fatalf("%d captures kept (%v), want 16", len(captures), err)
	}
	record, err := s.Book().Capture(t.Context(), captures[0].ID)
	if err != nil || len(record.Volts) != 50000 || captures[0].Kind != book.CaptureRound || captures[0].Instrument != "scope" {
		t.Errorf("capture %+v of %d samples (%v)", captures[0], len(record.Volts), err)
	}
}

// TestRoundSaysWhatCannotBeRead: an instrument that is silent leaves its test point
// unknown, says so, and keeps nobody from reading the others.
func TestRoundSaysWhatCannotBeRead(t *testing.T) {
	t.Parallel()
	s := newSimulated(t)
	s.fault(t, "meter", "silence", "on")
	round, reports := s.takeRound(t, logger.RoundRequest{Label: "meter off", Candidate: math.NaN()})
	if reports["rail-5v"].Trouble == nil || reports["composite"].Trouble != nil || reports["case"].Trouble != nil {
		t.Fatalf("trouble: rail %v, composite %v, case %v", reports["rail-5v"].Trouble, reports["composite"].Trouble, reports["case"].Trouble)
	}
	for _, f := range logger.RoundFigures(simulatedSheet(), round.Readings) {
		if f.Check.TestPoint == "rail-5v" && (f.Reading != nil || !math.IsNaN(f.Figure) || f.State != checks.Silent || f.Text() != checks.NotKnown) {
			t.Errorf("the rail is %+v, want not known", f)
		}
	}
	s.fault(t, "meter", "silence", "off")
	_, reports = s.takeRound(t, logger.RoundRequest{Label: "meter on", Candidate: math.NaN()})
	if reports["rail-5v"].Trouble != nil {
		t.Errorf("the meter answers again, and the round has: %v", reports["rail-5v"].Trouble)
	}
}

// TestPictureWithoutSync: what is not in the signal gives no figure.
func TestPictureWithoutSync(t *testing.T) {
	t.Parallel()
	s := newSimulated(t)
	s.fault(t, "B8-0147", "picture", "composite", "black")
	round, reports := s.takeRound(t, logger.RoundRequest{Label: "all black", Candidate: math.NaN()})
	for _, r := range round.Readings {
		if r.Measure == device.LumaPeakToPeak || r.Measure == device.White {
			t.Errorf("a black picture has %s %g V", r.Measure, r.Value)
		}
	}
	if report := reports["composite"]; report.Trouble != nil || len(report.Remarks) == 0 || !strings.Contains(report.Remarks[0], "cannot be measured in this signal") {
		t.Errorf("trouble %v, remarks %q", report.Trouble, report.Remarks)
	}
}

func TestRoundBesideASoak(t *testing.T) {
	t.Parallel()
	s := newSimulated(t)
	soak, err := s.BeginSoak(t.Context(), logger.SoakRequest{Unit: "B8-0147"})
	if err != nil {
		t.Fatal(err)
	}
	if _, err := s.PlanRound(t.Context(), "B8-0147", "right"); !errors.Is(err, logger.ErrNoPlace) {
		t.Errorf("a unit that soaks at left was planned at right: %v", err)
	}
	_, reports := s.takeRound(t, logger.RoundRequest{Label: "while soaking", Candidate: math.NaN()})
	for point, report := range reports {
		if report.Trouble != nil {
			t.Errorf("%s: %v", point, report.Trouble)
		}
	}
	snapshot, err := s.Snapshot(t.Context())
	if err != nil || len(snapshot.Soaks) != 1 {
		t.Fatalf("%d soaks (%v)", len(snapshot.Soaks), err)
	}
	for _, check := range snapshot.Soaks[0].Checks {
		if check.State != checks.Within {
			t.Errorf("%s is %s beside a round", check.Check, check.State)
		}
	}
	if err := s.EndSoak(t.Context(), "B8-0147", "enough"); err != nil {
		t.Fatal(err)
	}
	waitForVerdict(t, s)
	kinds := map[book.CaptureKind]int{}
	kept, err := s.Book().SoakCaptures(t.Context(), soak.ID)
	if err != nil {
		t.Fatal(err)
	}
	for _, c := range kept {
		kinds[c.Kind]++
	}
	if kinds[book.CaptureBegin] != 1 || kinds[book.CaptureEnd] != 1 {
		t.Errorf("the soak kept %v, want one record at its begin and one at its end", kinds)
	}
}

// waitForVerdict waits until the bench has judged a soak.
func waitForVerdict(t *testing.T, s simulated) {
	t.Helper()
	for deadline := time.Now().Add(10 * time.Second); time.Now().Before(deadline); {
		snapshot, err := s.Snapshot(t.Context())
		if err != nil {
			t.Fatal(err)
		}
		if len(snapshot.Finished) > 0 {
			return
		}
		<-time.After(10 * time.Millisecond)
	}
	t.Fatal("no verdict within 10 s")
}

func TestRoundsAreRefused(t *testing.T) {
	t.Parallel()
	s := newSimulated(t)
	s.takeRound(t, logger.RoundRequest{Label: "once", Candidate: math.NaN()})
	plan, err := s.PlanRound(t.Context(), "B8-0147", "")
	if err != nil {
		t.Fatal(err)
	}
	if !plan.Steps[0].NeedsPerson() || plan.Steps[1].NeedsPerson() {
		t.Error("a step needs a person exactly where it has a caution")
	}
	refusals := []struct {
		name string
		do   func() error
		want error
	}{
		{"a label twice", func() error {
			_, err := s.BeginRound(t.Context(), plan, logger.RoundRequest{Unit: "B8-0147", Label: "once", Candidate: math.NaN()})
			return err
		}, book.ErrExists},
		{"no label", func() error {
			_, err := s.BeginRound(t.Context(), plan, logger.RoundRequest{Unit: "B8-0147", Candidate: math.NaN()})
			return err
		}, book.ErrInvalid},
		{"a point of a round that ended", func() error {
			_, err := s.ReadPoint(t.Context(), "B8-0147", "once", "left", "rail-5v")
			return err
		}, logger.ErrRoundEnded},
		{"an end twice", func() error { return s.EndRound(t.Context(), "B8-0147", "once") }, logger.ErrRoundEnded},
		{"no such round", func() error { return s.EndRound(t.Context(), "B8-0147", "never") }, book.ErrNotFound},
		{"no such unit", func() error { _, err := s.PlanRound(t.Context(), "B8-9999", ""); return err }, book.ErrNotFound},
		{"no such place", func() error { _, err := s.PlanRound(t.Context(), "B8-0147", "roof"); return err }, logger.ErrNoPlace},
	}
	for _, r := range refusals {
		if err := r.do(); !errors.Is(err, r.want) {
			t.Errorf("%s: %v, want %v", r.name, err, r.want)
		}
	}
}

// TestTrialOfThreeLoads tries three loads of a source of 75 ohm. The level is
// 2 R / (R + 75) of nominal (Ohm's law), times the console's gain of 0.99: 0.9415,
// 0.9900 and 1.0342 V; the last one also rings by more than the bound.
func TestTrialOfThreeLoads(t *testing.T) {
	t.Parallel()
	s := newSimulated(t)
	trial, err := s.BeginTrial(t.Context(), logger.TrialRequest{Unit: "B8-0147", Part: "R14", CandidateUnit: "ohms"})
	if err != nil {
		t.Fatal(err)
	}
	for _, load := range []struct {
		text  string
		value float64
	}{{"68", 68}, {"75", 75}, {"82", 82}} {
		s.fault(t, "B8-0147", "load", "composite", load.text)
		if load.value == 82 {
			s.fault(t, "B8-0147", "ring", "composite", "5e6", "0.12")
		}
		s.takeRound(t, logger.RoundRequest{Label: logger.TrialLabel(trial.ID, load.text+" ohm"), Trial: trial.ID, Candidate: load.value})
	}
	if err := s.EndTrial(t.Context(), trial.ID, 75); err != nil {
		t.Fatal(err)
	}
	result, err := logger.TrialFromBook(t.Context(), s.Book(), "B8-0147", trial.ID, s.ParseSheet)
	if err != nil {
		t.Fatal(err)
	}
	order := result.Ranking.Order
	if len(order) != 3 || len(order[0]) != 1 || order[0][0] != 1 || order[1][0] != 0 || order[2][0] != 2 {
		t.Errorf("order %v, want 75 ohm, 68 ohm, 82 ohm", order)
	}
	if keeps := result.Ranking.ByTarget[0].Keeps; !keeps[0] || !keeps[1] || keeps[2] {
		t.Errorf("keeps to the overshoot's bound: %v", keeps)
	}
	for i, r := range []float64{68, 75, 82} {
		want := 0.99 * 2 * r / (r + 75)
		if got := result.Candidates[i].Figures[1].Value; math.Abs(got-want) > 0.01 {
			t.Errorf("%s: level %.4f V, want %.4f V", result.Candidates[i].Label, got, want)
		}
	}
	if result.Trial.Chosen != 75 || result.Candidates[0].Label != "68 ohm" {
		t.Errorf("chosen %g, first candidate %q", result.Trial.Chosen, result.Candidates[0].Label)
	}
	lines, err := logger.VideoLines(t.Context(), s.Book(), result.Sheet, result.Rounds)
	if err != nil || len(lines) != 3 || len(lines[0].Volts) < 500 || lines[2].Round.Candidate != 82 {
		t.Errorf("%d lines to lay over each other (%v)", len(lines), err)
	}
}

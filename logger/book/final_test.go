package book

import (
	"errors"
	"math"
	"reflect"
	"testing"
	"time"

	"soakline/checks"
	"soakline/device"
)

// finalBook has a unit with a final test under way.
func finalBook(t *testing.T) (*Book, FinalID) {
	t.Helper()
	b, _ := soaked(t)
	day := time.Date(2026, 3, 31, 0, 0, 0, 0, time.UTC)
	id, err := b.BeginFinal(t.Context(), Final{Bench: "pier-end", Place: "left", Unit: "B8-0147", Sheet: SheetCopy{Name: "brambling-8", Text: sheetText}, Begin: begin,
		Instruments: []checks.FinalInstrument{{Name: "meter", Port: "/dev/ttyUSB0", Identity: "Saltmarsh,M6,7,1", Calibrated: day.AddDate(-1, 0, 0), CalibrationDue: day}, {Name: "scope"}}})
	must(t, err)
	return b, id
}

// everyResult has every field that a result can have.
func everyResult() checks.StepResult {
	return checks.StepResult{Step: "rail", Kind: checks.StepMeasure, Act: checks.Taken, Begin: begin, End: begin.Add(time.Minute), TestPoint: "rail-5v",
		Readings: []checks.StepReading{{Repeat: 1, TestPoint: "rail-5v", Measure: device.DCVoltage, Instrument: "meter", At: begin.Add(time.Second),
			Value: 0.1 + 0.2, U: 1e-300, Averaged: 5}, {Repeat: 2, Value: math.Copysign(0, -1), At: begin}},
		Settled:  checks.SettledReport{Settled: true, Spread: math.SmallestNonzeroFloat64, Took: 3 * time.Second},
		Findings: []checks.Finding{{Code: "level-low", State: checks.Outside, Text: "Level 16 % low.", Advice: "Look at the coupling capacitor."}},
		Remarks:  []string{"had not settled"}, Answer: checks.No, Note: "hum on the left", Waited: time.Hour, Watched: true, Volts: math.NaN(), Soak: 7, Trouble: "silent"}
}

func TestFinalComesBackBitForBit(t *testing.T) {
	b, id := finalBook(t)
	want := everyResult()
	must(t, errors.Join(b.AddStepResult(t.Context(), id, want), b.AddStepResult(t.Context(), id, checks.StepResult{Step: "sound", Act: checks.Skipped, Begin: begin, End: begin})))
	got, err := b.OpenFinal(t.Context(), "B8-0147")
	must(t, err)
	if len(got.Results) != 2 || !math.IsNaN(got.Results[0].Volts) || math.Signbit(got.Results[0].Readings[1].Value) != true {
		t.Fatalf("results %+v", got.Results)
	}
	got.Results[0].Volts, want.Volts = 0, 0
	if !reflect.DeepEqual(got.Results[0], want) {
		t.Errorf("got  %+v\nwant %+v", got.Results[0], want)
	}
	if !got.UnderWay() || len(got.Instruments) != 2 || got.Instruments[0].CalibrationDue != time.Date(2026, 3, 31, 0, 0, 0, 0, time.UTC) || !got.Instruments[1].Calibrated.IsZero() {
		t.Errorf("kept %+v", got)
	}
	must(t, b.EndFinal(t.Context(), id, begin.Add(time.Hour), ""))
	verdict := checks.FinalVerdict{Outcome: checks.Fail, Unit: "B8-0147", Steps: []checks.StepVerdict{{Step: "rail",
		Figures: []checks.FinalFigure{{Value: 5, Probability: math.NaN(), Limit: checks.Limit{Low: math.Inf(-1), High: 5.25, Nominal: math.NaN()}}}}}}
	must(t, b.PutFinalVerdict(t.Context(), id, begin, verdict))
	kept, err := b.FinalVerdict(t.Context(), id)
	must(t, err)
	again, err := EncodeFinalVerdict(kept.FinalVerdict)
	must(t, err)
	if first, _ := EncodeFinalVerdict(verdict); string(first) != string(again) {
		t.Errorf("verdict came back as %s", again)
	}
	link, err := b.FinalVerdictLink(t.Context(), id)
	if head, _ := b.ChainHead(t.Context()); err != nil || link != head {
		t.Errorf("link %+v (%v)", link, err)
	}
	if problems := checked(t, b); len(problems) > 0 {
		t.Errorf("%v", problems)
	}
}

func TestFinalIsRefused(t *testing.T) {
	b, id := finalBook(t)
	ctx := t.Context()
	again := Final{Bench: "pier-end", Place: "left", Unit: "B8-0147", Sheet: SheetCopy{Name: "brambling-8", Text: sheetText}}
	nobody := again
	nobody.Unit = "B8-9999"
	noSheet := again
	noSheet.Sheet = SheetCopy{Name: "empty"}
	for name, test := range map[string]struct{ got, want error }{
		"a second under way": {second(b.BeginFinal(ctx, again)), ErrExists},
		"a unit not known":   {second(b.BeginFinal(ctx, nobody)), ErrNotFound},
		"no sheet":           {second(b.BeginFinal(ctx, noSheet)), ErrInvalid},
		"a step of none":     {b.AddStepResult(ctx, 99, everyResult()), ErrNotFound},
		"the end of none":    {b.EndFinal(ctx, 99, begin, ""), ErrNotFound},
		"instruments":        {b.AddFinalInstruments(ctx, 99, checks.FinalInstrument{Name: "meter"}), ErrNotFound},
		"a verdict":          {b.PutFinalVerdict(ctx, 99, begin, checks.FinalVerdict{}), ErrNotFound},
		"no such test":       {second(b.Final(ctx, 99)), ErrNotFound},
		"no verdict":         {second(b.FinalVerdict(ctx, id)), ErrNotFound},
		"none under way":     {second(b.OpenFinal(ctx, "B8-9999")), ErrNotFound},
	} {
		if !errors.Is(test.got, test.want) {
			t.Errorf("%s: %v, want %v", name, test.got, test.want)
		}
	}
	must(t, b.EndFinal(ctx, id, time.Time{}, "the unit fell off the bench"))
	if err := b.AddStepResult(ctx, id, everyResult()); !errors.Is(err, ErrNotFound) {
		t.Errorf("a step after the end: %v", err)
	}
	if finals, err := b.Finals(ctx, ""); err != nil || len(finals) != 1 || finals[0].GivenUp == "" || finals[0].UnderWay() {
		t.Errorf("%+v (%v)", finals, err)
	}
}

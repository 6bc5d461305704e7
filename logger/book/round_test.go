package book

import (
	"errors"
	"math"
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"
	"github.com/google/go-cmp/cmp/cmpopts"

	"soakline/device"
)

func aRound(label string) Round {
	return Round{Bench: "quay", Unit: "B8-0147", Label: label, Sheet: SheetCopy{Name: "brambling-8", Text: sheetText}, Begin: begin, Candidate: math.NaN()}
}

func TestRoundsAndTrials(t *testing.T) {
	b := openNew(t)
	addUnit(t, b, "B8-0147")
	ctx := t.Context()
	trial, err := b.BeginTrial(ctx, Trial{Unit: "B8-0147", Part: "series resistor", CandidateUnit: "ohms"})
	must(t, err)
	want := aRound("68 ohm")
	want.Trial, want.Candidate = trial, 68
	want.ID, err = b.BeginRound(ctx, want)
	must(t, err)
	first := digits(t, rail, time.Second, "5.0121")
	again := digits(t, rail, 2*time.Second, "5.0119")
	must(t, b.AddRoundReadings(ctx, want.ID, RoundReading{"rail-5v", "meter", first.Reading, 1}))
	must(t, b.AddRoundReadings(ctx, want.ID, RoundReading{"rail-5v", "meter", again.Reading, 5},
		RoundReading{"composite", "scope", device.Reading{Measure: device.PeakToPeak, Value: 1.0 / 3, At: begin}, 0}))
	must(t, b.EndRound(ctx, want.ID, begin.Add(time.Minute)))
	want.Console, want.Sheet.Hash, want.End = "Brambling 8", HashSheet(sheetText), begin.Add(time.Minute)
	want.Readings = []RoundReading{
		{"composite", "scope", device.Reading{Measure: device.PeakToPeak, Value: 1.0 / 3, At: begin}, 1},
		{"rail-5v", "meter", again.Reading, 5},
	}
	got, err := b.TrialRounds(ctx, trial)
	if diff := cmp.Diff([]Round{want}, got, cmp.Comparer(sameReading)); err != nil || diff != "" {
		t.Error(err, diff)
	}
	must(t, b.EndTrial(ctx, trial, begin.Add(time.Hour), 68))
	trials, err := b.Trials(ctx, "B8-0147")
	wantTrial := Trial{ID: trial, Unit: "B8-0147", Part: "series resistor", CandidateUnit: "ohms", Begin: begin, End: begin.Add(time.Hour), Chosen: 68}
	if diff := cmp.Diff([]Trial{wantTrial}, trials); err != nil || diff != "" {
		t.Error(err, diff)
	}
	alone, err := b.BeginRound(ctx, aRound("as received"))
	must(t, err)
	all, err := b.Rounds(ctx, "B8-0147")
	if err != nil || len(all) != 2 || all[1].ID != alone || !math.IsNaN(all[1].Candidate) || !all[1].End.IsZero() {
		t.Errorf("rounds %+v (%v)", all, err)
	}
	one, err := b.Round(ctx, "B8-0147", "68 ohm")
	if diff := cmp.Diff(want, one, cmp.Comparer(sameReading), cmpopts.EquateNaNs()); err != nil || diff != "" {
		t.Error(err, diff)
	}
}

func TestRoundsRefuse(t *testing.T) {
	b := openNew(t)
	addUnit(t, b, "B8-0147")
	ctx := t.Context()
	id, err := b.BeginRound(ctx, aRound("as received"))
	must(t, err)
	unknown := aRound("x")
	unknown.Unit = "none"
	ofTrial := aRound("y")
	ofTrial.Trial = 99
	for name, refused := range map[string]struct{ got, want error }{
		"label taken":      {second(b.BeginRound(ctx, aRound("as received"))), ErrExists},
		"no label":         {second(b.BeginRound(ctx, aRound(""))), ErrInvalid},
		"unknown unit":     {second(b.BeginRound(ctx, unknown)), ErrNotFound},
		"unknown trial":    {second(b.BeginRound(ctx, ofTrial)), ErrNotFound},
		"unknown round":    {b.EndRound(ctx, 99, begin), ErrNotFound},
		"readings of none": {b.AddRoundReadings(ctx, 99, RoundReading{}), ErrNotFound},
		"not a number":     {b.AddRoundReadings(ctx, id, RoundReading{Reading: device.Reading{Value: math.NaN()}}), ErrInvalid},
		"no such round":    {second(b.Round(ctx, "B8-0147", "none")), ErrNotFound},
		"end no trial":     {b.EndTrial(ctx, 99, begin, 1), ErrNotFound},
		"trial of no unit": {second(b.BeginTrial(ctx, Trial{Unit: "none"})), ErrNotFound},
		"capture of none":  {second(b.AddCapture(ctx, KeptCapture{Round: 99}, device.Capture{At: begin})), ErrNotFound},
		"homeless capture": {second(b.AddCapture(ctx, KeptCapture{}, device.Capture{At: begin})), ErrInvalid},
		"no such capture":  {second(b.Capture(ctx, 99)), ErrNotFound},
	} {
		if !errors.Is(refused.got, refused.want) {
			t.Errorf("%s: %v, want %v", name, refused.got, refused.want)
		}
	}
}

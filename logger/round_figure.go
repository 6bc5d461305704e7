package logger

import (
	"math"

	"soakline/checks"
	"soakline/logger/book"
)

// RoundFigure is one figure of a round and how it stands to the sheet.
type RoundFigure struct {
	Check checks.CheckKey
	// Asked tells whether the sheet has a limit for it.
	Asked bool
	Limit checks.Limit
	// Reading is nil where nothing was measured: that is no 0.
	Reading *book.RoundReading
	// Figure is what the limit applies to, the reading less its reference, with
	// one standard uncertainty; both NaN where it is not known.
	Figure, U float64
	// State is empty where there is nothing to judge by: no limit, or a limit of
	// the drift from a soak's own beginning.
	State checks.State
}

// Text prints the figure as every screen does.
func (f RoundFigure) Text() string { return checks.Figure(f.Figure, f.U, f.Check.Measure.Unit()) }

// Bracket draws where the figure stands; without a trail, as a round has none.
func (f RoundFigure) Bracket() checks.Bracket {
	return checks.Bracket{Limit: f.Limit, U: f.U, Reading: f.Figure, Low: math.NaN(), High: math.NaN(), State: f.State}
}

// RoundFigures sets the readings of a round against a sheet: first its checks in
// its order, then at each test point what was measured besides. It is a pure
// function of both.
func RoundFigures(sheet checks.Sheet, readings []book.RoundReading) []RoundFigure {
	at := make(map[checks.CheckKey]*book.RoundReading, len(readings))
	for i, r := range readings {
		at[checks.CheckKey{TestPoint: r.TestPoint, Measure: r.Measure}] = &readings[i]
	}
	var figures []RoundFigure
	for _, point := range sheet.TestPoints {
		asked := map[checks.CheckKey]bool{}
		for _, check := range point.Checks {
			key := checks.CheckKey{TestPoint: point.Name, Measure: check.Measure}
			asked[key] = true
			figures = append(figures, roundFigure(key, check, at))
		}
		for _, r := range readings {
			if key := (checks.CheckKey{TestPoint: r.TestPoint, Measure: r.Measure}); r.TestPoint == point.Name && !asked[key] {
				figures = append(figures, RoundFigure{Check: key, Reading: at[key], Figure: r.Value, U: r.StandardUncertainty})
			}
		}
	}
	return figures
}

// roundFigure is the figure of one check.
func roundFigure(key checks.CheckKey, check checks.Check, at map[checks.CheckKey]*book.RoundReading) RoundFigure {
	f := RoundFigure{Check: key, Asked: true, Limit: check.Limit, Reading: at[key], Figure: math.NaN(), U: math.NaN(), State: checks.Silent}
	if f.Reading == nil {
		return f
	}
	f.Figure, f.U = f.Reading.Value, f.Reading.StandardUncertainty
	switch against := check.Against; {
	case against.Baseline:
		f.State = ""
		return f
	case against.TestPoint != "":
		other := checks.CheckKey{TestPoint: against.TestPoint, Measure: against.Measure}
		if other.Measure == "" {
			other.Measure = check.Measure
		}
		reference := at[other]
		if reference == nil {
			f.Figure, f.U = math.NaN(), math.NaN()
			return f
		}
		// Taken as independent: see Compare.
		f.Figure, f.U = f.Figure-reference.Value, math.Hypot(f.U, reference.StandardUncertainty)
	}
	f.State, _ = check.Limit.Classify(f.Figure, f.U)
	return f
}

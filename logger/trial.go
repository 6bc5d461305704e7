package logger

import (
	"context"
	"errors"
	"fmt"
	"math"
	"strings"
	"time"

	"soakline/checks"
	"soakline/device"
	"soakline/logger/book"
)

// ErrNoCriteria says that a sheet does not say what its candidates are ranked by.
var ErrNoCriteria = errors.New("the test sheet has no trial criteria")

// TrialRequest asks for a trial of candidate values of one part.
type TrialRequest struct {
	Unit checks.UnitID
	// Part says what is varied, "series resistor R14"; CandidateUnit is the plural
	// unit of its values, "ohms".
	Part, CandidateUnit string
}

// BeginTrial writes a trial of a unit whose sheet has criteria; its rounds name it.
func (b *Bench) BeginTrial(ctx context.Context, request TrialRequest) (book.Trial, error) {
	trial := book.Trial{Unit: request.Unit, Part: request.Part, CandidateUnit: request.CandidateUnit,
		Begin: b.now(), Chosen: math.NaN()}
	unit, err := b.options.Book.Unit(ctx, request.Unit)
	if err != nil {
		return trial, err
	}
	sheet, err := b.settings.SheetFor(unit.Console)
	if err != nil {
		return trial, fmt.Errorf("unit %s: %w", request.Unit, err)
	}
	if len(sheet.Trial) == 0 {
		return trial, fmt.Errorf("unit %s: %w: sheet %s needs a section trial", request.Unit, ErrNoCriteria, sheet.Name)
	}
	trial.ID, err = b.options.Book.BeginTrial(ctx, trial)
	return trial, err
}

// EndTrial closes a trial with the candidate that stays fitted, NaN for none.
func (b *Bench) EndTrial(ctx context.Context, id book.TrialID, chosen float64) error {
	return b.options.Book.EndTrial(ctx, id, time.Time{}, chosen)
}

// TrialResult is a trial with its ranking.
type TrialResult struct {
	Trial book.Trial
	Sheet checks.Sheet
	// Rounds are those of the candidates, in the order in which they were fitted;
	// Candidates has what each showed.
	Rounds     []book.Round
	Candidates []checks.Candidate
	Ranking    checks.Ranking
}

// RankTrial ranks the rounds of a trial by the criteria of a sheet. It is a pure
// function.
func RankTrial(sheet checks.Sheet, trial book.Trial, rounds []book.Round) TrialResult {
	targets := sheet.TrialCriteria()
	result := TrialResult{Trial: trial, Sheet: sheet, Rounds: rounds}
	for _, round := range rounds {
		candidate := checks.Candidate{Label: CandidateText(round.Candidate, trial.CandidateUnit)}
		for _, target := range targets {
			candidate.Figures = append(candidate.Figures, figureOf(round, target.Key()))
		}
		result.Candidates = append(result.Candidates, candidate)
	}
	result.Ranking = checks.Rank(targets, result.Candidates)
	return result
}

// figureOf is a figure of a round; NaN where it was not measured.
func figureOf(round book.Round, key checks.CheckKey) checks.TrialFigure {
	for _, r := range round.Readings {
		if r.TestPoint == key.TestPoint && r.Measure == key.Measure {
			return checks.TrialFigure{Value: r.Value, U: r.StandardUncertainty}
		}
	}
	return checks.TrialFigure{Value: math.NaN(), U: math.NaN()}
}

// TrialFromBook ranks a trial of a unit by the sheet that its last round was taken
// with.
func TrialFromBook(ctx context.Context, from *book.Book, unit checks.UnitID, id book.TrialID,
	parse func(name string, text []byte) (checks.Sheet, error)) (TrialResult, error) {
	trials, err := from.Trials(ctx, unit)
	if err != nil {
		return TrialResult{}, err
	}
	for _, trial := range trials {
		if trial.ID != id {
			continue
		}
		rounds, err := from.TrialRounds(ctx, id)
		if err != nil {
			return TrialResult{}, err
		}
		if len(rounds) == 0 {
			return TrialResult{}, fmt.Errorf("trial %d of unit %s: %w: it has no rounds", id, unit, book.ErrNotFound)
		}
		last := rounds[len(rounds)-1].Sheet
		sheet, err := parse(last.Name, last.Text)
		if err != nil {
			return TrialResult{}, err
		}
		return RankTrial(sheet, trial, rounds), nil
	}
	return TrialResult{}, fmt.Errorf("trial %d of unit %s: %w", id, unit, book.ErrNotFound)
}

// candidateUnits are the units that a part's values may be in.
var candidateUnits = []device.Unit{device.Ohm, device.Farad, device.Volt, device.Hertz, device.Ampere, device.Second}

// CandidateText names a part's value, "68 ohm", from its unit in the plural.
func CandidateText(value float64, plural string) string {
	for _, unit := range candidateUnits {
		if unit.Plural == plural {
			return checks.Figure(value, 0, unit)
		}
	}
	return strings.TrimSpace(fmt.Sprintf("%g %s", value, plural))
}

// TrialLabel is the label of the round with a candidate fitted.
func TrialLabel(id book.TrialID, candidate string) string {
	return fmt.Sprintf("trial %d, %s", id, candidate)
}

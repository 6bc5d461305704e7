package logger

import (
	"context"
	"errors"
	"fmt"
	"slices"
	"time"

	"soakline/checks"
	"soakline/device"
	"soakline/logger/book"
)

// RoundRequest asks for a round of readings at every test point of a unit.
type RoundRequest struct {
	Unit checks.UnitID
	// Label is new among the unit's rounds.
	Label string
	// Trial, if not 0, is the trial that the round is part of, with Candidate
	// fitted.
	Trial     book.TrialID
	Candidate float64
}

// RoundPlan is what a round of a unit comes to: where it is wired and what is read.
type RoundPlan struct {
	Unit  book.Unit
	Place string
	Sheet checks.Sheet
	Steps []RoundStep
}

// RoundStep is one test point of a round and the instrument that it is wired to.
type RoundStep struct {
	Point      checks.TestPoint
	Instrument string
	Channel    string
	// Shot is the record that is taken there, if one is.
	Shot device.Shot
	// Load is where the current is read that a reservoir capacitor feeds; nil where it
	// is not read.
	Load *Connection
}

// NeedsPerson tells whether the step has a caution that a person must have read.
func (s RoundStep) NeedsPerson() bool { return s.Point.Caution != "" }

// ErrRoundEnded refuses more readings of a round that was closed.
var ErrRoundEnded = errors.New("the round has ended")

// PlanRound says what a round of a unit would read and where. A unit on a soak is
// read at its place; for another the place is that of the name, or the first free
// one that is wired for its console. Nothing is read.
func (b *Bench) PlanRound(ctx context.Context, id checks.UnitID, place string) (RoundPlan, error) {
	unit, err := b.options.Book.Unit(ctx, id)
	if err != nil {
		return RoundPlan{}, err
	}
	sheet, err := b.settings.SheetFor(unit.Console)
	if err != nil {
		return RoundPlan{}, fmt.Errorf("unit %s: %w", id, err)
	}
	at, err := b.placeOf(ctx, id, place, sheet)
	if err != nil {
		return RoundPlan{}, fmt.Errorf("unit %s: %w", id, err)
	}
	plan := RoundPlan{Unit: unit, Place: at.Name, Sheet: sheet}
	for _, point := range sheet.TestPoints {
		for _, c := range at.Connections {
			if c.TestPoint == point.Name {
				plan.Steps = append(plan.Steps, RoundStep{Point: point, Instrument: c.Instrument, Channel: c.Channel,
					Shot: shotOf(point, c, at.Connections), Load: loadOf(point, at.Connections)})
			}
		}
	}
	referencesFirst(plan.Steps)
	return plan, nil
}

// referencesFirst puts the test points that others are compared with first.
func referencesFirst(steps []RoundStep) {
	rank := func(s RoundStep) int {
		for _, other := range steps {
			for _, check := range other.Point.Checks {
				if check.Against.TestPoint == s.Point.Name {
					return 0
				}
			}
		}
		return 1
	}
	slices.SortStableFunc(steps, func(a, b RoundStep) int { return rank(a) - rank(b) })
}

// placeOf is where a unit is read: on a soak where it soaks, else at a free place.
func (b *Bench) placeOf(ctx context.Context, unit checks.UnitID, name string, sheet checks.Sheet) (Place, error) {
	var soaks *Place
	err := b.ask(ctx, func() {
		for _, soak := range b.soaks {
			if soak.unit == unit {
				soaks = &soak.place
			}
		}
	})
	switch {
	case err != nil:
		return Place{}, err
	case soaks == nil:
		return b.freePlace(ctx, name, sheet)
	case name != "" && name != soaks.Name:
		return Place{}, fmt.Errorf("%w: it is on a soak at place %s, not at %s", ErrNoPlace, soaks.Name, name)
	default:
		return *soaks, nil
	}
}

// BeginRound writes a round without readings; ReadPoint fills it.
func (b *Bench) BeginRound(ctx context.Context, plan RoundPlan, request RoundRequest) (book.Round, error) {
	if err := b.mustKnowTime(); err != nil {
		return book.Round{}, fmt.Errorf("unit %s: %w", plan.Unit.ID, err)
	}
	round := book.Round{Bench: b.settings.Bench, Unit: plan.Unit.ID, Console: plan.Unit.Console, Label: request.Label,
		Sheet: book.SheetCopy{Name: plan.Sheet.Name, Text: b.options.SheetTexts[plan.Sheet.Hash], Hash: plan.Sheet.Hash},
		Begin: b.now(), Trial: request.Trial, Candidate: request.Candidate}
	var err error
	if round.ID, err = b.options.Book.BeginRound(ctx, round); err == nil {
		b.Tell(Happening{Kind: RoundBegun, Unit: round.Unit, Round: round.Label})
	}
	return round, err
}

// EndRound closes a round.
func (b *Bench) EndRound(ctx context.Context, unit checks.UnitID, label string) error {
	round, err := b.openRound(ctx, unit, label)
	if err != nil {
		return err
	}
	if err := b.options.Book.EndRound(ctx, round.ID, time.Time{}); err != nil {
		return err
	}
	b.Tell(Happening{Kind: RoundOver, Unit: unit, Round: label})
	return nil
}

// openRound returns a round that is under way.
func (b *Bench) openRound(ctx context.Context, unit checks.UnitID, label string) (book.Round, error) {
	round, err := b.options.Book.Round(ctx, unit, label)
	if err == nil && !round.End.IsZero() {
		err = fmt.Errorf("round %q of unit %s: %w", label, unit, ErrRoundEnded)
	}
	return round, err
}

// SheetOf reads a test sheet from the copy that the book kept.
func (b *Bench) SheetOf(kept book.SheetCopy) (checks.Sheet, error) {
	return b.options.ParseSheet(kept.Name, kept.Text)
}

// ParseSheet reads a test sheet from a text that the book kept.
func (b *Bench) ParseSheet(name string, text []byte) (checks.Sheet, error) {
	return b.options.ParseSheet(name, text)
}

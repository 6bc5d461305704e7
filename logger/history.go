package logger

import (
	"cmp"
	"context"
	"fmt"
	"math"
	"slices"
	"time"

	"soakline/checks"
	"soakline/checks/drift"
	"soakline/device"
	"soakline/logger/book"
)

// HistoryOptions say which part of a unit's history is wanted.
type HistoryOptions struct {
	// Sheet has the limits; its name is empty where the newest sheet in the book
	// counts, which Parse then reads.
	Sheet checks.Sheet
	Parse func(name string, text []byte) (checks.Sheet, error)
	// TestPoint, if set, leaves out all others. Since, if not zero, leaves out what
	// was measured before: a part has been replaced.
	TestPoint checks.TestPointName
	Since     time.Time
}

// History is what the book knows of a unit over its rounds, soaks and discharges.
type History struct {
	Unit  book.Unit
	Sheet checks.Sheet
	// Courses are the figures, the sheet's checks first, in its order.
	Courses []HistoryCourse
	// Wear are the capacitors that the sheet follows.
	Wear []PartWear
}

// HistoryCourse is one figure over time.
type HistoryCourse struct {
	Check checks.CheckKey
	// Asked tells whether the sheet has a limit for it that figures of different days
	// can be held against: one from a soak's own beginning can't.
	Asked   bool
	Limit   checks.Limit
	Figures []HistoryFigure
	Trend   drift.MonthsTrend
}

// HistoryKind is where a figure of a history comes from.
type HistoryKind string

// The kinds of a history's figures.
const (
	OfRound     HistoryKind = "round"
	OfSoak      HistoryKind = "soak"
	OfDischarge HistoryKind = "discharge"
)

// HistoryFigure is one figure of one day, less its reference where the sheet limits
// a difference.
type HistoryFigure struct {
	// At is the middle of a soak.
	At   time.Time
	Kind HistoryKind
	// Label is the round's; Soak the soak's number.
	Label string
	Soak  book.SoakID
	// Value is the mean of a soak's readings, Readings how many they were, Low and
	// High the ends that they reached; NaN else. U is one standard uncertainty, NaN
	// where it is not known.
	Value, U, Low, High float64
	Readings            int64
}

// HistoryFromBook gathers a unit's history. Rounds of a trial are left out: they are
// of parts that were only tried. It is a function of the book and the sheet alone.
func HistoryFromBook(ctx context.Context, from *book.Book, unit checks.UnitID, o HistoryOptions) (History, error) {
	u, err := from.Unit(ctx, unit)
	if err != nil {
		return History{}, err
	}
	h := &historian{book: from, history: History{Unit: u, Sheet: o.Sheet}, options: o,
		courses: map[checks.CheckKey]*HistoryCourse{}}
	if err := h.gather(ctx); err != nil {
		return History{}, fmt.Errorf("history of unit %s: %w", unit, err)
	}
	h.arrange()
	if err := h.addWear(ctx); err != nil {
		return History{}, fmt.Errorf("history of unit %s: %w", unit, err)
	}
	return h.history, nil
}

// History gathers a unit's history by the bench's sheet for its console.
func (b *Bench) History(ctx context.Context, unit checks.UnitID, point checks.TestPointName, since time.Time) (History, error) {
	u, err := b.options.Book.Unit(ctx, unit)
	if err != nil {
		return History{}, err
	}
	o := HistoryOptions{Parse: b.options.ParseSheet, TestPoint: point, Since: since}
	// A unit of a console that the bench no longer has a sheet for has a history too.
	o.Sheet, _ = b.settings.SheetFor(u.Console)
	return HistoryFromBook(ctx, b.options.Book, unit, o)
}

// historian gathers one history.
type historian struct {
	book    *book.Book
	options HistoryOptions
	history History
	rounds  []book.Round
	soaks   []soakFigures
	courses map[checks.CheckKey]*HistoryCourse
}

// gather reads what the book has.
func (h *historian) gather(ctx context.Context) error {
	unit := h.history.Unit.ID
	rounds, err := h.book.Rounds(ctx, unit)
	if err != nil {
		return err
	}
	soaks, err := h.book.Soaks(ctx, unit)
	if err != nil {
		return err
	}
	if err := h.chooseSheet(rounds, soaks); err != nil {
		return err
	}
	for _, round := range rounds {
		if round.Trial == 0 && !round.Begin.Before(h.options.Since) {
			h.rounds = append(h.rounds, round)
			h.takeRound(round)
		}
	}
	for _, soak := range soaks {
		if soak.Begin.Before(h.options.Since) {
			continue
		}
		figures, err := soakFiguresOf(ctx, h.book, soak)
		if err != nil {
			return err
		}
		h.soaks = append(h.soaks, figures)
		h.takeSoak(figures)
	}
	return h.takeDischarges(ctx)
}

// chooseSheet takes the newest sheet of the book where none was given.
func (h *historian) chooseSheet(rounds []book.Round, soaks []book.Soak) error {
	if h.history.Sheet.Name != "" || h.options.Parse == nil {
		return nil
	}
	var newest book.SheetCopy
	var at time.Time
	for _, r := range rounds {
		if !r.Begin.Before(at) {
			newest, at = r.Sheet, r.Begin
		}
	}
	for _, s := range soaks {
		if !s.Begin.Before(at) {
			newest, at = s.Sheet, s.Begin
		}
	}
	if at.IsZero() {
		return nil
	}
	sheet, err := h.options.Parse(newest.Name, newest.Text)
	h.history.Sheet = sheet
	return err
}

func (h *historian) takeRound(round book.Round) {
	for _, f := range RoundFigures(h.history.Sheet, round.Readings) {
		if f.Reading == nil || math.IsNaN(f.Figure) {
			continue
		}
		h.add(f.Check, HistoryFigure{At: f.Reading.At, Kind: OfRound, Label: round.Label, Value: f.Figure, U: orUnknown(f.U),
			Low: math.NaN(), High: math.NaN(), Readings: int64(f.Reading.Averaged)})
	}
}

// orUnknown is NaN for an uncertainty that nobody gave.
func orUnknown(u float64) float64 {
	if u > 0 {
		return u
	}
	return math.NaN()
}

func (h *historian) takeSoak(s soakFigures) {
	for key, f := range s.figures {
		if reference, ok := h.reference(key); ok {
			r, known := s.figures[reference]
			if !known {
				continue
			}
			f.Value, f.Low, f.High = f.Value-r.Value, math.NaN(), math.NaN() // the ends were not reached at one time
		}
		h.add(key, f)
	}
}

// reference is what the sheet subtracts from a check.
func (h *historian) reference(key checks.CheckKey) (checks.CheckKey, bool) {
	check, ok := h.history.Sheet.Check(key)
	if !ok {
		return checks.CheckKey{}, false
	}
	return check.Against.Key(key.Measure)
}

// takeDischarges takes the capacitances that watched discharges gave. They are
// computed: a reading that an instrument gave has digits, and belongs to its soak.
func (h *historian) takeDischarges(ctx context.Context) error {
	for r, err := range h.book.Readings(ctx, book.Filter{Unit: h.history.Unit.ID, Measure: device.Capacitance, Since: h.options.Since}) {
		if err != nil {
			return err
		}
		if r.Digits.Known() {
			continue
		}
		h.add(checks.CheckKey{TestPoint: r.Tag.TestPoint, Measure: r.Measure}, HistoryFigure{At: r.At, Kind: OfDischarge, Value: r.Value,
			U: orUnknown(r.StandardUncertainty), Low: math.NaN(), High: math.NaN(), Readings: 1})
	}
	return nil
}

func (h *historian) add(key checks.CheckKey, f HistoryFigure) {
	course := h.courses[key]
	if course == nil {
		course = &HistoryCourse{Check: key}
		if check, ok := h.history.Sheet.Check(key); ok && !check.Against.Baseline {
			course.Asked, course.Limit = true, check.Limit
		}
		h.courses[key] = course
	}
	course.Figures = append(course.Figures, f)
}

// arrange puts courses and figures in order and follows each.
func (h *historian) arrange() {
	rank := map[checks.CheckKey]int{}
	for _, point := range h.history.Sheet.TestPoints {
		for _, check := range point.Checks {
			rank[checks.CheckKey{TestPoint: point.Name, Measure: check.Measure}] = len(rank) - math.MaxInt32
		}
	}
	for _, course := range h.courses {
		slices.SortStableFunc(course.Figures, func(a, b HistoryFigure) int {
			return cmp.Or(a.At.Compare(b.At), cmp.Compare(a.Kind, b.Kind), cmp.Compare(a.Label, b.Label))
		})
		course.follow()
		if h.options.TestPoint == "" || course.Check.TestPoint == h.options.TestPoint {
			h.history.Courses = append(h.history.Courses, *course)
		}
	}
	slices.SortFunc(h.history.Courses, func(a, b HistoryCourse) int {
		return cmp.Or(cmp.Compare(rank[a.Check], rank[b.Check]), cmp.Compare(a.Check.TestPoint, b.Check.TestPoint), cmp.Compare(a.Check.Measure, b.Check.Measure))
	})
}

// follow takes the trend of a course towards its limits.
func (c *HistoryCourse) follow() {
	at, values := make([]time.Time, len(c.Figures)), make([]float64, len(c.Figures))
	for i, f := range c.Figures {
		at[i], values[i] = f.At, f.Value
	}
	var low, high *float64
	if c.Asked && !math.IsInf(c.Limit.Low, 0) {
		low = &c.Limit.Low
	}
	if c.Asked && !math.IsInf(c.Limit.High, 0) {
		high = &c.Limit.High
	}
	c.Trend = drift.MonthsTrendOf(at, values, low, high, drift.DefaultConfidence)
}

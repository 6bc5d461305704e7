package report

import (
	"context"
	"errors"
	"fmt"
	"time"

	"soakline/checks"
	"soakline/logger"
	"soakline/logger/book"
)

// Options are what a certificate is written with.
type Options struct {
	// Soak, if not 0, is the soak that it is about; else the unit's latest that has
	// a verdict.
	Soak book.SoakID
	// Program names this program and its version.
	Program string
	Now     time.Time
	// Zone is the bench's clock; nil is UTC.
	Zone *time.Location
	// ParseSheet reads a test sheet from the text that the book kept.
	ParseSheet func(name string, text []byte) (checks.Sheet, error)
	// BenchSheets are the hashes of the bench's own sheets by console, where they
	// are known: a verdict by another text says so.
	BenchSheets map[checks.ConsoleName]string
}

// ErrNothingJudged says that there is no verdict to write about.
var ErrNothingJudged = errors.New("there is no verdict yet")

// NewCertificate gathers a unit's certificate from the book. It reads stored
// verdicts and the book's overviews, not the readings one by one.
func NewCertificate(ctx context.Context, from *book.Book, unit checks.UnitID, options Options) (Certificate, error) {
	if options.Zone == nil {
		options.Zone = time.UTC
	}
	g := gatherer{book: from, options: options}
	piece, err := from.Unit(ctx, unit)
	if err != nil {
		return Certificate{}, err
	}
	soak, verdict, err := g.judged(ctx, unit)
	if err != nil {
		return Certificate{}, err
	}
	sheet, err := options.ParseSheet(soak.Sheet.Name, soak.Sheet.Text)
	if err != nil {
		return Certificate{}, fmt.Errorf("the sheet that was kept with soak %d: %w", soak.ID, err)
	}
	c := Certificate{
		Unit: string(unit), Console: string(piece.Console), Bench: soak.Bench, Outcome: verdict.Outcome,
		Given: verdict.At, Written: options.Now, Program: options.Program, Sheet: SheetName{verdict.SheetName, verdict.SheetHash},
		Soak: &SoakPart{Number: int64(soak.ID), Place: soak.Place, Begin: verdict.Begin, End: verdict.End,
			PlannedS: verdict.Planned.Seconds(), EvidenceRatio: checks.Number(verdict.Evidence), Stopped: soak.Reason},
		Reasons: append([]string{}, verdict.Sentences(options.Zone)...), Instruments: instruments(soak), Notes: []NotePart{},
		Lines: []LinePart{}, Cautions: cautions(sheet), Statement: statement(), Remarks: g.remarks(soak), zone: options.Zone,
	}
	for _, note := range piece.Notes {
		c.Notes = append(c.Notes, NotePart{At: note.At, Text: note.Text})
	}
	for _, add := range []func() error{
		func() error { return g.chain(ctx, soak, &c) },
		func() error { return g.checks(ctx, soak, sheet, verdict.Verdict, &c) },
		func() error { return g.rounds(ctx, sheet, verdict.At, &c) },
		func() error { return g.soakLines(ctx, soak, sheet, &c) },
	} {
		if err := add(); err != nil {
			return Certificate{}, fmt.Errorf("report on %s: %w", unit, err)
		}
	}
	return c, nil
}

// gatherer reads what a certificate says.
type gatherer struct {
	book    *book.Book
	options Options
}

// judged finds the soak that is asked for and the latest verdict on it.
func (g gatherer) judged(ctx context.Context, unit checks.UnitID) (book.Soak, book.SoakVerdict, error) {
	soaks, err := g.book.Soaks(ctx, unit)
	if err != nil {
		return book.Soak{}, book.SoakVerdict{}, err
	}
	if g.options.Soak != 0 {
		return g.asked(ctx, unit)
	}
	running := false
	for i := len(soaks) - 1; i >= 0; i-- {
		verdict, err := g.book.Verdict(ctx, soaks[i].ID)
		if err == nil {
			return soaks[i], verdict, nil
		}
		if !errors.Is(err, book.ErrNotFound) {
			return book.Soak{}, book.SoakVerdict{}, err
		}
		running = running || soaks[i].State == book.SoakRunning
	}
	why := "it has not been on a soak"
	if running {
		why = "its soak runs"
	}
	return book.Soak{}, book.SoakVerdict{}, fmt.Errorf("unit %s: %w: %s", unit, ErrNothingJudged, why)
}

// asked is the soak of the options, which must be the unit's.
func (g gatherer) asked(ctx context.Context, unit checks.UnitID) (book.Soak, book.SoakVerdict, error) {
	soak, err := g.book.Soak(ctx, g.options.Soak)
	if err != nil {
		return soak, book.SoakVerdict{}, err
	}
	if soak.Unit != unit {
		return soak, book.SoakVerdict{}, fmt.Errorf("soak %d is of %s, not of %s: %w", soak.ID, soak.Unit, unit, book.ErrInvalid)
	}
	verdict, err := g.book.Verdict(ctx, soak.ID)
	if errors.Is(err, book.ErrNotFound) {
		err = fmt.Errorf("soak %d of %s: %w", soak.ID, unit, ErrNothingJudged)
	}
	return soak, verdict, err
}

func instruments(soak book.Soak) []InstrumentPart {
	parts := []InstrumentPart{}
	for _, i := range soak.Instruments {
		parts = append(parts, InstrumentPart{Name: i.Name, Identity: i.Identity, Port: i.Port, Since: i.Since})
	}
	return parts
}

func cautions(sheet checks.Sheet) []CautionPart {
	parts := []CautionPart{}
	for _, point := range sheet.TestPoints {
		if point.Caution != "" {
			parts = append(parts, CautionPart{TestPoint: string(point.Name), Text: point.Caution})
		}
	}
	return parts
}

// remarks are what a reader of the verdict should know besides.
func (g gatherer) remarks(soak book.Soak) []string {
	remarks := []string{}
	today, known := g.options.BenchSheets[soak.Console]
	if known && today != soak.Sheet.Hash {
		remarks = append(remarks, fmt.Sprintf("The bench's sheet for %s has changed since (sha256 %.12s… today); this verdict is by the text that was kept with the soak.",
			soak.Console, today))
	}
	return remarks
}

// chain finds the verdict's link and makes the record's identity from it.
func (g gatherer) chain(ctx context.Context, soak book.Soak, c *Certificate) error {
	link, err := g.book.VerdictLink(ctx, soak.ID)
	if err != nil {
		return err
	}
	c.Chain = viewChain(link)
	c.Identity = Identity{Unit: c.Unit, Outcome: string(c.Outcome), Day: c.Given.In(c.zone), Position: link.Position, Hash: link.Hash}.String()
	return nil
}

// rounds sets the first round before the verdict beside the last, and lays their
// video lines over one another. The rounds of a trial are left out.
func (g gatherer) rounds(ctx context.Context, sheet checks.Sheet, given time.Time, c *Certificate) error {
	all, err := g.book.Rounds(ctx, checks.UnitID(c.Unit))
	if err != nil {
		return err
	}
	var rounds []book.Round
	for _, round := range all {
		if round.Trial == 0 && !round.End.IsZero() && !round.Begin.After(given) {
			rounds = append(rounds, round)
		}
	}
	if len(rounds) < 2 {
		return nil
	}
	before, after := rounds[0], rounds[len(rounds)-1]
	c.Changes = changes(logger.Compare(sheet, before, after))
	lines, err := logger.VideoLines(ctx, g.book, sheet, []book.Round{before, after})
	if err != nil || len(lines) == 0 {
		return err
	}
	plot := LinePlot{Title: c.Unit + " video line, first and last round"}
	for _, line := range lines {
		trace := traceOf(line.Round.Label, line)
		if line.Round.ID == before.ID && len(lines) > 1 {
			plot.Baseline = &trace
			continue
		}
		plot.Traces = append(plot.Traces, trace)
	}
	plot.Rulers = videoRulers(after)
	c.addLine(plot)
	return nil
}

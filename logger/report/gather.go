package report

import (
	"context"
	"fmt"
	"time"

	"soakline/checks"
	"soakline/logger"
	"soakline/logger/book"
)

// Options are what a certificate is written with.
type Options struct {
	// Soak, if not 0, is the soak that it is about; else the unit's latest verdict
	// is, on its final test or on a soak.
	Soak book.SoakID
	// Program names this program and its version.
	Program string
	Now     time.Time
	// Zone is the bench's clock; nil is UTC.
	Zone *time.Location
	// ParseSheet reads a test sheet from the text that the book kept.
	ParseSheet func(name string, text []byte) (checks.Sheet, error)
	// Bench is the bench as its file is today, where it is known: for calibration
	// dates that the book does not have, and to say if a sheet has changed since.
	Bench logger.Settings
}

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
	about, err := g.subject(ctx, unit)
	if err != nil {
		return Certificate{}, err
	}
	kept := about.sheet()
	sheet, err := options.ParseSheet(kept.Name, kept.Text)
	if err != nil {
		return Certificate{}, fmt.Errorf("the sheet that the book kept with the verdict on %s: %w", unit, err)
	}
	c := g.begin(piece, about, sheet)
	for _, add := range []func() error{
		func() error { return g.chain(ctx, about, &c) },
		func() error { return g.soak(ctx, about, &c) },
		func() error { return g.rounds(ctx, sheet, &c) },
		func() error { return g.capacitors(ctx, sheet, &c) },
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

// begin is a certificate with all that needs no further look into the book.
func (g gatherer) begin(piece book.Unit, about subject, sheet checks.Sheet) Certificate {
	c := Certificate{
		Unit: string(piece.ID), Console: string(piece.Console), Given: about.given(), Written: g.options.Now, Program: g.options.Program,
		Reasons: []string{}, Remarks: g.remarks(piece.Console, about.sheet()), Checks: []CheckPart{}, Lines: []LinePart{}, Spectra: []SpectrumPart{}, Capacitors: []CapacitorPart{}, Notes: []NotePart{},
		Instruments: g.instruments(about), Cautions: cautions(sheet), Statement: statement(), zone: g.options.Zone,
	}
	for _, note := range piece.Notes {
		c.Notes = append(c.Notes, NotePart{At: note.At, Text: note.Text})
	}
	if about.soak != nil {
		v := about.verdict
		c.Soak = &SoakPart{Number: int64(about.soak.ID), Place: about.soak.Place, Begin: v.Begin, End: v.End, Outcome: v.Outcome,
			PlannedS: v.Planned.Seconds(), EvidenceRatio: checks.Number(v.Evidence), Stopped: about.soak.Reason}
	}
	if about.final != nil {
		v := about.finalVerdict
		v.FinalVerdict = v.In(g.options.Zone, about.finalSoaks()...)
		c.Bench, c.Outcome, c.Sheet, c.Final = about.final.Bench, v.Outcome, SheetName{v.SheetName, v.SheetHash}, finalPart(*about.final, v)
		for _, r := range v.Reasons {
			c.Reasons = append(c.Reasons, reasonText(r))
		}
		return c
	}
	c.Bench, c.Outcome, c.Sheet = about.soak.Bench, about.verdict.Outcome, SheetName{about.verdict.SheetName, about.verdict.SheetHash}
	c.Reasons = append(c.Reasons, about.verdict.Sentences(g.options.Zone)...)
	return c
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
func (g gatherer) remarks(console checks.ConsoleName, kept book.SheetCopy) []string {
	remarks := []string{}
	for _, sheet := range g.options.Bench.Sheets {
		if sheet.Console == console && sheet.Hash != kept.Hash {
			remarks = append(remarks, fmt.Sprintf("The bench's sheet for %s has changed since (sha256 %.12s… today); this verdict is by the text that the book kept.",
				console, sheet.Hash))
		}
	}
	return remarks
}

// chain finds the verdict's link and makes the record's identity from it.
func (g gatherer) chain(ctx context.Context, about subject, c *Certificate) error {
	link, err := g.link(ctx, about)
	if err != nil {
		return err
	}
	c.Chain = viewChain(link)
	c.Identity = Identity{Unit: c.Unit, Outcome: string(c.Outcome), Day: c.Given.In(c.zone), Position: link.Position, Hash: link.Hash}.String()
	return nil
}

// soak adds the checks, plots and video lines of the soak, by the sheet that was
// kept with it.
func (g gatherer) soak(ctx context.Context, about subject, c *Certificate) error {
	if about.soak == nil {
		return nil
	}
	sheet, err := g.options.ParseSheet(about.soak.Sheet.Name, about.soak.Sheet.Text)
	if err != nil {
		return err
	}
	if err := g.checks(ctx, *about.soak, sheet, about.verdict.Verdict, c); err != nil {
		return err
	}
	if err := g.soakLines(ctx, *about.soak, sheet, c); err != nil {
		return err
	}
	return g.soakSpectra(ctx, *about.soak, sheet, c)
}

// rounds sets the first round before the verdict beside the last, and lays their
// video lines and spectra over one another. The rounds of a trial are left out.
func (g gatherer) rounds(ctx context.Context, sheet checks.Sheet, c *Certificate) error {
	all, err := g.book.Rounds(ctx, checks.UnitID(c.Unit))
	if err != nil {
		return err
	}
	var rounds []book.Round
	for _, round := range all {
		if round.Trial == 0 && !round.End.IsZero() && !round.Begin.After(c.Given) {
			rounds = append(rounds, round)
		}
	}
	if len(rounds) < 2 {
		return nil
	}
	before, after := rounds[0], rounds[len(rounds)-1]
	c.Changes = changes(logger.Compare(sheet, before, after))
	if err := g.roundLines(ctx, before, after, sheet, c); err != nil {
		return err
	}
	return g.roundSpectra(ctx, before, after, sheet, c)
}

// roundLines lays the video lines of two rounds over one another.
func (g gatherer) roundLines(ctx context.Context, before, after book.Round, sheet checks.Sheet, c *Certificate) error {
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

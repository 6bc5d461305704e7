package logger

import (
	"context"
	"errors"
	"fmt"
	"slices"
	"time"

	"soakline/checks"
	"soakline/logger/book"
)

// liveSoak is a soak that is under way.
type liveSoak struct {
	id        book.SoakID
	unit      checks.UnitID
	place     Place
	sheet     checks.Sheet
	begin     time.Time
	judgement *checks.Judgement
	// drifts are the drift watches of the checks that have one.
	drifts map[checks.CheckKey]*checks.DriftWatch
	// findings are those of the latest record of each test point, records what is
	// kept of them.
	findings map[checks.TestPointName][]checks.Finding
	records  map[checks.TestPointName]*recordKeeping
	// loads are the currents that reservoir capacitors are found by.
	loads loads
	// power switches the unit off and on; nil where its sheet does not ask for it.
	power *powerCycles
	// instruments are those that serve it, as the book has them last.
	instruments map[string]book.SoakInstrument
}

// newLiveSoak returns a soak that has seen nothing yet.
func newLiveSoak(kept book.Soak, place Place, sheet checks.Sheet, judgement *checks.Judgement) *liveSoak {
	soak := &liveSoak{id: kept.ID, unit: kept.Unit, place: place, sheet: sheet, begin: kept.Begin, judgement: judgement,
		findings: map[checks.TestPointName][]checks.Finding{}, records: map[checks.TestPointName]*recordKeeping{},
		instruments: map[string]book.SoakInstrument{}}
	for _, connection := range place.Connections {
		soak.instruments[connection.Instrument] = book.SoakInstrument{}
	}
	for _, instrument := range kept.Instruments {
		soak.instruments[instrument.Name] = instrument
	}
	soak.loads = newLoads(sheet)
	soak.power = newPowerCycles(sheet, place)
	return soak
}

// FinishedSoak is a soak with its verdict.
type FinishedSoak struct {
	ID      book.SoakID
	Unit    checks.UnitID
	Console checks.ConsoleName
	Place   string
	Verdict checks.Verdict
}

// SoakRequest asks for one unit to be soaked.
type SoakRequest struct {
	Unit checks.UnitID
	// Place is where on the bench the unit is; empty takes the first free place
	// that is wired for its console.
	Place string
	// For is how long; 0 is the sheet's duration.
	For time.Duration
}

// Errors of a soak that cannot be begun or ended.
var (
	ErrNoSheet  = errors.New("no test sheet on this bench")
	ErrNoPlace  = errors.New("no free place that is wired for it")
	ErrNotSoaks = errors.New("is not on a soak")
)

// BeginSoak begins the soak of one unit, which must be in the book.
func (b *Bench) BeginSoak(ctx context.Context, request SoakRequest) (book.Soak, error) {
	b.beginning.Lock()
	defer b.beginning.Unlock()
	if err := b.mustKnowTime(); err != nil {
		return book.Soak{}, fmt.Errorf("unit %s: %w", request.Unit, err)
	}
	unit, err := b.options.Book.Unit(ctx, request.Unit)
	if err != nil {
		return book.Soak{}, err
	}
	sheet, err := b.settings.SheetFor(unit.Console)
	if err != nil {
		return book.Soak{}, fmt.Errorf("unit %s: %w", request.Unit, err)
	}
	place, err := b.freePlace(ctx, request.Place, sheet)
	if err != nil {
		return book.Soak{}, fmt.Errorf("unit %s: %w", request.Unit, err)
	}
	record := book.Soak{Bench: b.settings.Bench, Place: place.Name, Unit: unit.ID, Console: unit.Console,
		Sheet:   book.SheetCopy{Name: sheet.Name, Text: b.options.SheetTexts[sheet.Hash], Hash: sheet.Hash},
		Planned: request.For, Begin: b.now(), Instruments: b.identities(place)}
	if record.Planned <= 0 {
		record.Planned = sheet.Soak.Duration
	}
	drifts, err := checks.NewDriftWatches(sheet)
	if err != nil {
		return book.Soak{}, fmt.Errorf("unit %s: %w", request.Unit, err)
	}
	if record.ID, err = b.options.Book.BeginSoak(ctx, record); err != nil {
		return book.Soak{}, err
	}
	soak := newLiveSoak(record, place, sheet, checks.NewJudgement(sheet, unit.ID, record.Begin, record.Planned))
	soak.drifts = drifts
	ctx = context.WithoutCancel(ctx)
	if err := b.ask(ctx, func() { b.start(soak) }); err != nil {
		// It must not go on by itself with the next start: nobody knows of it.
		return book.Soak{}, errors.Join(fmt.Errorf("unit %s: %w", unit.ID, err),
			b.options.Book.EndSoak(ctx, record.ID, book.SoakStopped, b.now(), "the bench stopped as the soak was to begin"))
	}
	return record, nil
}

// start takes up a soak; what ended before at its place, or of its unit, is no
// longer shown.
func (b *Bench) start(soak *liveSoak) {
	b.soaks = append(b.soaks, soak)
	b.finished = slices.DeleteFunc(b.finished, func(f FinishedSoak) bool {
		return f.Place == soak.place.Name || f.Unit == soak.unit
	})
	b.reroute()
	b.Tell(Happening{Kind: SoakBegun, Unit: soak.unit, Soak: soak.id})
	b.options.Log.Info("soak begun", "unit", soak.unit, "place", soak.place.Name, "sheet", soak.sheet.Name)
}

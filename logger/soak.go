package logger

import (
	"context"
	"errors"
	"fmt"
	"slices"
	"strings"
	"time"

	"soakline/checks"
	"soakline/device"
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
	// findings are those of the latest record of each test point, records what is
	// kept of them.
	findings map[checks.TestPointName][]checks.Finding
	records  map[checks.TestPointName]*recordKeeping
}

// newLiveSoak returns a soak that has seen nothing yet.
func newLiveSoak(kept book.Soak, place Place, sheet checks.Sheet, judgement *checks.Judgement) *liveSoak {
	return &liveSoak{id: kept.ID, unit: kept.Unit, place: place, sheet: sheet, begin: kept.Begin, judgement: judgement,
		findings: map[checks.TestPointName][]checks.Finding{}, records: map[checks.TestPointName]*recordKeeping{}}
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
		Planned: request.For, Begin: time.Now().Truncate(time.Microsecond), Instruments: b.identities(place)}
	if record.Planned <= 0 {
		record.Planned = sheet.Soak.Duration
	}
	if record.ID, err = b.options.Book.BeginSoak(ctx, record); err != nil {
		return book.Soak{}, err
	}
	soak := newLiveSoak(record, place, sheet, checks.NewJudgement(sheet, unit.ID, record.Begin, record.Planned))
	return record, b.ask(context.WithoutCancel(ctx), func() { b.start(soak) })
}

// start takes up a soak; what ended before at its place is no longer shown.
func (b *Bench) start(soak *liveSoak) {
	b.soaks = append(b.soaks, soak)
	b.finished = slices.DeleteFunc(b.finished, func(f FinishedSoak) bool { return f.Place == soak.place.Name })
	b.reroute()
	b.options.Log.Info("soak begun", "unit", soak.unit, "place", soak.place.Name, "sheet", soak.sheet.Name)
}

// freePlace returns the place of that name, or the first that is free and wired
// for every test point of the sheet.
func (b *Bench) freePlace(ctx context.Context, name string, sheet checks.Sheet) (Place, error) {
	taken := map[string]checks.UnitID{}
	if err := b.ask(ctx, func() {
		for _, soak := range b.soaks {
			taken[soak.place.Name] = soak.unit
		}
	}); err != nil {
		return Place{}, err
	}
	var why []string
	for _, place := range b.settings.Places {
		if name != "" && place.Name != name {
			continue
		}
		if unit, busy := taken[place.Name]; busy {
			why = append(why, fmt.Sprintf("place %s is taken by %s", place.Name, unit))
			continue
		}
		if missing := unwired(place, sheet); len(missing) > 0 {
			why = append(why, fmt.Sprintf("place %s has nothing at %s", place.Name, strings.Join(missing, ", ")))
			continue
		}
		return place, nil
	}
	if name != "" && len(why) == 0 {
		why = append(why, fmt.Sprintf("there is no place named %q", name))
	}
	return Place{}, fmt.Errorf("%w: %s", ErrNoPlace, strings.Join(why, "; "))
}

// unwired lists the test points of a sheet that a place has no connection for.
func unwired(place Place, sheet checks.Sheet) []string {
	var missing []string
	for _, point := range sheet.TestPoints {
		if !slices.ContainsFunc(place.Connections, func(c Connection) bool { return c.TestPoint == point.Name }) {
			missing = append(missing, string(point.Name))
		}
	}
	return missing
}

// identities are the instruments of a place, as far as they have answered.
func (b *Bench) identities(place Place) []book.SoakInstrument {
	var all []book.SoakInstrument
	for _, connection := range place.Connections {
		status := b.keepers[connection.Instrument].Status()
		known := slices.ContainsFunc(all, func(i book.SoakInstrument) bool { return i.Name == connection.Instrument })
		if !known {
			all = append(all, book.SoakInstrument{Name: connection.Instrument, Port: status.Port,
				Identity: status.Identity.Text, Since: time.Now().Truncate(time.Microsecond)})
		}
	}
	return all
}

// EndSoak stops the soak of a unit before its time, for a reason in words.
func (b *Bench) EndSoak(ctx context.Context, unit checks.UnitID, reason string) error {
	found := false
	err := b.ask(ctx, func() {
		for _, soak := range b.soaks {
			if soak.unit == unit {
				found = true
				b.endSoak(context.WithoutCancel(ctx), soak, book.SoakStopped, time.Now().Truncate(time.Microsecond), reason)
				return
			}
		}
	})
	if err == nil && !found {
		err = fmt.Errorf("unit %s %w", unit, ErrNotSoaks)
	}
	return err
}

// endSoak takes a soak off the bench and has its verdict given. It is the owner's
// to call; the verdict is given beside it, from the book.
func (b *Bench) endSoak(ctx context.Context, soak *liveSoak, state book.SoakState, end time.Time, reason string) {
	b.soaks = slices.DeleteFunc(b.soaks, func(s *liveSoak) bool { return s == soak })
	b.reroute()
	b.keepLastRecords(soak)
	b.Counters.leave(soak.unit)
	b.finishing.Go(func() {
		finished, err := b.finish(context.WithoutCancel(ctx), soak, state, end, reason)
		if err != nil {
			b.options.Log.Error("a soak has ended but its verdict could not be given; soakline judge gives it from the book",
				"soak", soak.id, "unit", soak.unit, "error", err)
			return
		}
		b.options.Log.Info("verdict", "unit", soak.unit, "outcome", finished.Verdict.Outcome)
		if err := b.ask(context.WithoutCancel(ctx), func() { b.finished = append(b.finished, finished) }); err != nil {
			b.options.Log.Debug("nobody is left to show the verdict to", "unit", soak.unit, "why", err)
		}
		if b.options.Finished != nil {
			b.options.Finished(finished)
		}
	})
}

// finish writes the end of a soak into the book and judges what the book then
// holds: the verdict is that of the record, not of the memory of this process.
func (b *Bench) finish(ctx context.Context, soak *liveSoak, state book.SoakState, end time.Time, reason string) (FinishedSoak, error) {
	finished := FinishedSoak{ID: soak.id, Unit: soak.unit, Console: soak.sheet.Console, Place: soak.place.Name}
	if err := b.writer.Flush(ctx); err != nil {
		return finished, err
	}
	if err := b.options.Book.EndSoak(ctx, soak.id, state, end, reason); err != nil {
		return finished, err
	}
	verdict, err := JudgeFromBook(ctx, b.options.Book, soak.id, soak.sheet)
	if err != nil {
		return finished, err
	}
	finished.Verdict = verdict
	return finished, KeepVerdict(ctx, b.options.Book, soak.id, verdict)
}

// JudgeFromBook gives the verdict of a sheet on a soak as the book holds it.
func JudgeFromBook(ctx context.Context, from *book.Book, id book.SoakID, sheet checks.Sheet) (checks.Verdict, error) {
	record, failed, err := from.Record(ctx, id)
	if err != nil {
		return checks.Verdict{}, err
	}
	verdict := checks.Judge(sheet, record)
	if err := failed(); err != nil {
		return checks.Verdict{}, err
	}
	return verdict, nil
}

// KeepVerdict writes a verdict with its excursions and gaps.
func KeepVerdict(ctx context.Context, in *book.Book, id book.SoakID, verdict checks.Verdict) error {
	for _, check := range verdict.Checks {
		for _, excursion := range check.Excursions {
			if err := in.PutExcursion(ctx, id, excursion); err != nil {
				return err
			}
		}
		for _, gap := range check.Gaps {
			if err := in.PutGap(ctx, id, gap); err != nil {
				return err
			}
		}
	}
	return in.PutVerdict(ctx, id, time.Now().Truncate(time.Microsecond), verdict)
}

// resume takes up the soaks that were running when the program last ended. What
// the book holds is judged again, so that the gap is in the evidence.
func (b *Bench) resume(ctx context.Context) error {
	running, err := b.options.Book.RunningSoaks(ctx, b.settings.Bench)
	if err != nil {
		return err
	}
	for _, kept := range running {
		soak, err := b.revive(ctx, kept)
		if err != nil {
			return fmt.Errorf("take up the soak of %s again: %w", kept.Unit, err)
		}
		b.start(soak)
		at := time.Now().Truncate(time.Microsecond)
		b.record(device.Event{Instrument: "soakline", Kind: device.Returned, At: at,
			Text: fmt.Sprintf("the soak of %s at %s goes on after the program was away", kept.Unit, kept.Place)})
	}
	return nil
}

// revive builds a running soak from the book.
func (b *Bench) revive(ctx context.Context, kept book.Soak) (*liveSoak, error) {
	sheet, err := b.options.ParseSheet(kept.Sheet.Name, kept.Sheet.Text)
	if err != nil {
		return nil, err
	}
	at := slices.IndexFunc(b.settings.Places, func(p Place) bool { return p.Name == kept.Place })
	if at < 0 {
		return nil, fmt.Errorf("the bench has no place named %q any more", kept.Place)
	}
	record, failed, err := b.options.Book.Record(ctx, kept.ID)
	if err != nil {
		return nil, err
	}
	judgement := checks.Resume(sheet, record)
	if err := failed(); err != nil {
		return nil, err
	}
	return newLiveSoak(kept, b.settings.Places[at], sheet, judgement), nil
}

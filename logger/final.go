package logger

import (
	"context"
	"errors"
	"fmt"
	"slices"
	"strings"
	"sync"
	"time"

	"soakline/checks"
	"soakline/logger/book"
)

// FinalRequest asks for the final test of a unit to begin, or to go on.
type FinalRequest struct {
	Unit checks.UnitID
	// Place is where the unit is; empty where it soaks, or the first free one.
	Place string
	// Anew, if not empty, gives up the one under way for this reason and begins
	// another.
	Anew string
}

// FinalStatus is how a final test stands.
type FinalStatus struct {
	Final book.Final
	Sheet checks.Sheet
	// Verdict is what there would be if it ended now, or what there was at its end.
	Verdict checks.FinalVerdict
	// Soaks are those that it relies on, judged by Sheet.
	Soaks []checks.FinalSoak
	// Due are the steps that can be taken next.
	Due []checks.FinalStep
}

// Errors of a final test that cannot be begun, gone on with or ended.
var (
	ErrNoFinal      = errors.New("has no final test")
	ErrSheetChanged = errors.New("the test sheet has changed since")
	ErrOtherBench   = errors.New("is under way at another bench")
	ErrStepsLeft    = errors.New("steps are still to be taken")
	ErrNotDue       = errors.New("cannot be taken now")
	ErrTaking       = errors.New("somebody takes a step of it already")
	ErrStillSoaks   = errors.New("is still on a soak")
	ErrNoAnswer     = errors.New("wants an answer, yes or no")
)

// finals keeps two people from taking steps of one final test at the same time.
type finals struct {
	mu     sync.Mutex
	taking map[checks.UnitID]bool
	// judging is held while a verdict is given: a bench that has just begun looks for
	// those that are missing, and must not give one that is being given.
	judging sync.Mutex
}

// begin takes a unit for one who works at its final test.
func (f *finals) begin(unit checks.UnitID) (done func(), err error) {
	f.mu.Lock()
	defer f.mu.Unlock()
	if f.taking[unit] {
		return nil, fmt.Errorf("the final test of %s: %w", unit, ErrTaking)
	}
	if f.taking == nil {
		f.taking = map[checks.UnitID]bool{}
	}
	f.taking[unit] = true
	return func() {
		f.mu.Lock()
		defer f.mu.Unlock()
		delete(f.taking, unit)
	}, nil
}

// BeginFinal begins the final test of a unit, or goes on with the one that is under
// way: every result that the book has stays.
func (b *Bench) BeginFinal(ctx context.Context, request FinalRequest) (FinalStatus, error) {
	if err := b.mustKnowTime(); err != nil {
		return FinalStatus{}, fmt.Errorf("unit %s: %w", request.Unit, err)
	}
	done, err := b.finals.begin(request.Unit)
	if err != nil {
		return FinalStatus{}, err
	}
	defer done()
	open, err := b.options.Book.OpenFinal(ctx, request.Unit)
	switch {
	case errors.Is(err, book.ErrNotFound):
		return b.beginFinal(ctx, request)
	case err != nil:
		return FinalStatus{}, err
	case open.Bench != b.settings.Bench:
		return FinalStatus{}, fmt.Errorf("final test %d of %s %w: %s", open.ID, open.Unit, ErrOtherBench, open.Bench)
	case request.Anew != "":
		if err := b.endFinal(ctx, open, request.Anew); err != nil {
			return FinalStatus{}, err
		}
		return b.beginFinal(ctx, request)
	}
	if err := b.sameSheet(open); err != nil {
		return FinalStatus{}, err
	}
	if err := b.noteFinalInstruments(ctx, open, b.now()); err != nil {
		return FinalStatus{}, err
	}
	return b.finalStatus(ctx, open.ID)
}

// sameSheet refuses to go on by a sheet that is not the one it began with.
func (b *Bench) sameSheet(open book.Final) error {
	today, err := b.settings.SheetFor(open.Console)
	if err != nil {
		return fmt.Errorf("unit %s: %w", open.Unit, err)
	}
	if today.Hash != open.Sheet.Hash {
		return fmt.Errorf("final test %d of %s: %w it began (%s, sha256 %.12s then, %.12s now): put the old sheet back, or begin anew: soakline final --unit %s --anew REASON",
			open.ID, open.Unit, ErrSheetChanged, open.Sheet.Name, open.Sheet.Hash, today.Hash, open.Unit)
	}
	return nil
}

// beginFinal writes a new one. Its records of the scope go into a round of its own,
// so that it can be compared with the rounds before.
func (b *Bench) beginFinal(ctx context.Context, request FinalRequest) (FinalStatus, error) {
	plan, err := b.PlanRound(ctx, request.Unit, request.Place)
	if err != nil {
		return FinalStatus{}, err
	}
	if len(plan.Sheet.Final.Steps) == 0 {
		return FinalStatus{}, fmt.Errorf("unit %s: test sheet %s %w", request.Unit, plan.Sheet.Name, ErrNoFinal)
	}
	round, err := b.finalRound(ctx, plan)
	if err != nil {
		return FinalStatus{}, err
	}
	final := book.Final{Bench: b.settings.Bench, Place: plan.Place, Unit: plan.Unit.ID, Console: plan.Unit.Console, Sheet: round.Sheet,
		Round: round.ID, Begin: round.Begin, Instruments: b.finalInstruments(plan.Place, round.Begin)}
	if final.ID, err = b.options.Book.BeginFinal(ctx, final); err != nil {
		return FinalStatus{}, err
	}
	b.tellFinal(final.Unit, fmt.Sprintf("final test %d begun at %s", final.ID, final.Place))
	return b.finalStatus(ctx, final.ID)
}

// finalRound begins the round of a final test, under the first free of "final test
// 1", "final test 2" and so on.
func (b *Bench) finalRound(ctx context.Context, plan RoundPlan) (book.Round, error) {
	before, err := b.options.Book.Rounds(ctx, plan.Unit.ID)
	if err != nil {
		return book.Round{}, err
	}
	for n := 1; ; n++ {
		label := fmt.Sprintf("final test %d", n)
		if !slices.ContainsFunc(before, func(r book.Round) bool { return r.Label == label }) {
			return b.BeginRound(ctx, plan, RoundRequest{Unit: plan.Unit.ID, Label: label})
		}
	}
}

// finalInstruments are the instruments of a place with what is known of them.
func (b *Bench) finalInstruments(place string, since time.Time) []checks.FinalInstrument {
	at := slices.IndexFunc(b.settings.Places, func(p Place) bool { return p.Name == place })
	if at < 0 {
		return nil
	}
	var all []checks.FinalInstrument
	for _, i := range b.identities(b.settings.Places[at]) {
		settings := b.settings.instrument(i.Name)
		all = append(all, checks.FinalInstrument{Name: i.Name, Port: i.Port, Identity: i.Identity, Since: since,
			Calibrated: settings.Calibrated, CalibrationDue: settings.CalibrationDue})
	}
	return all
}

// instrument returns an instrument's settings.
func (s Settings) instrument(name string) InstrumentSettings {
	for _, i := range s.Instruments {
		if i.Name == name {
			return i
		}
	}
	return InstrumentSettings{}
}

// noteFinalInstruments writes down the instruments that have become others since the
// book last heard of them.
func (b *Bench) noteFinalInstruments(ctx context.Context, final book.Final, since time.Time) error {
	var changed []checks.FinalInstrument
	for _, now := range b.finalInstruments(final.Place, since) {
		last := checks.FinalInstrument{}
		for _, before := range final.Instruments {
			if before.Name == now.Name {
				last = before
			}
		}
		if now.Identity == "" {
			now.Identity, now.Port = last.Identity, last.Port // it is away: what was known of it stays
		}
		same := last
		same.Since = now.Since
		if same != now {
			changed = append(changed, now)
		}
	}
	if len(changed) == 0 {
		return nil
	}
	return b.options.Book.AddFinalInstruments(ctx, final.ID, changed...)
}

// FinalStatus returns how the final test of a unit stands: the one under way, else
// the latest. ErrNotFound if it never had one.
func (b *Bench) FinalStatus(ctx context.Context, unit checks.UnitID) (FinalStatus, error) {
	all, err := b.options.Book.Finals(ctx, unit)
	if err != nil {
		return FinalStatus{}, err
	}
	if len(all) == 0 {
		if _, err := b.options.Book.Unit(ctx, unit); err != nil {
			return FinalStatus{}, err
		}
		return FinalStatus{}, fmt.Errorf("unit %s: %w: no final test yet", unit, book.ErrNotFound)
	}
	return b.finalStatus(ctx, all[len(all)-1].ID)
}

func (b *Bench) finalStatus(ctx context.Context, id book.FinalID) (FinalStatus, error) {
	final, err := b.options.Book.Final(ctx, id)
	if err != nil {
		return FinalStatus{}, err
	}
	return finalStatusOf(ctx, b.options.Book, final, b.options.ParseSheet, b.judged.judge)
}

// FinalStatusOf is how a final test of a book stands, by the sheet that the book
// kept with it.
func FinalStatusOf(ctx context.Context, from *book.Book, final book.Final, parse func(string, []byte) (checks.Sheet, error)) (FinalStatus, error) {
	return finalStatusOf(ctx, from, final, parse, judgeForFinal)
}

func finalStatusOf(ctx context.Context, from *book.Book, final book.Final, parse func(string, []byte) (checks.Sheet, error), judge soakJudge) (FinalStatus, error) {
	sheet, err := parse(final.Sheet.Name, final.Sheet.Text)
	if err != nil {
		return FinalStatus{}, err
	}
	record, err := finalRecord(ctx, from, final, sheet, judge)
	if err != nil {
		return FinalStatus{}, err
	}
	status := FinalStatus{Final: final, Sheet: sheet, Soaks: record.Soaks, Verdict: checks.JudgeFinal(sheet, record)}
	if final.UnderWay() {
		status.Due = checks.FinalDue(sheet, record)
	}
	return status, nil
}

// EndFinal ends a final test that has all its steps and gives its verdict.
func (b *Bench) EndFinal(ctx context.Context, unit checks.UnitID) (FinalStatus, error) {
	done, err := b.finals.begin(unit)
	if err != nil {
		return FinalStatus{}, err
	}
	defer done()
	open, err := b.options.Book.OpenFinal(ctx, unit)
	if err != nil {
		return FinalStatus{}, err
	}
	status, err := b.finalStatus(ctx, open.ID)
	if err != nil {
		return FinalStatus{}, err
	}
	if len(status.Due) > 0 {
		var names []string
		for _, step := range status.Due {
			names = append(names, string(step.Name))
		}
		return status, fmt.Errorf("final test %d of %s: %w: %s", open.ID, unit, ErrStepsLeft, strings.Join(names, ", "))
	}
	if err := b.endFinal(ctx, open, ""); err != nil {
		return FinalStatus{}, err
	}
	return b.finalStatus(ctx, open.ID)
}

// GiveUpFinal ends a final test before its last step, for a reason in words; its
// verdict is undecided, unless a step failed.
func (b *Bench) GiveUpFinal(ctx context.Context, unit checks.UnitID, reason string) (FinalStatus, error) {
	done, err := b.finals.begin(unit)
	if err != nil {
		return FinalStatus{}, err
	}
	defer done()
	open, err := b.options.Book.OpenFinal(ctx, unit)
	if err != nil {
		return FinalStatus{}, err
	}
	if err := b.endFinal(ctx, open, reason); err != nil {
		return FinalStatus{}, err
	}
	return b.finalStatus(ctx, open.ID)
}

// endFinal writes the end, and the verdict from what the book then holds.
func (b *Bench) endFinal(ctx context.Context, open book.Final, givenUp string) error {
	if err := b.options.Book.EndFinal(ctx, open.ID, b.now(), givenUp); err != nil {
		return err
	}
	if open.RoundLabel != "" {
		if err := b.EndRound(ctx, open.Unit, open.RoundLabel); err != nil && !errors.Is(err, ErrRoundEnded) {
			return err
		}
	}
	return b.giveFinalVerdict(ctx, open)
}

// giveFinalVerdict judges a final test that has ended and keeps the verdict, unless it
// has one.
func (b *Bench) giveFinalVerdict(ctx context.Context, final book.Final) error {
	b.finals.judging.Lock()
	defer b.finals.judging.Unlock()
	if _, err := b.options.Book.FinalVerdict(ctx, final.ID); !errors.Is(err, book.ErrNotFound) {
		return err
	}
	sheet, err := b.options.ParseSheet(final.Sheet.Name, final.Sheet.Text)
	if err != nil {
		return err
	}
	verdict, err := JudgeFinalFromBook(ctx, b.options.Book, final.ID, sheet)
	if err != nil {
		return err
	}
	if err := b.options.Book.PutFinalVerdict(ctx, final.ID, b.now(), verdict); err != nil {
		return err
	}
	b.options.Log.Info("verdict on a final test", "unit", final.Unit, "outcome", verdict.Outcome)
	b.tellFinal(final.Unit, fmt.Sprintf("final test %d: %s", final.ID, verdict.Outcome))
	return nil
}

// tellFinal tells those who follow.
func (b *Bench) tellFinal(unit checks.UnitID, text string) {
	b.Tell(Happening{Kind: FinalStep, Unit: unit, Text: text})
}

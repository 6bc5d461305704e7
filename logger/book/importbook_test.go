package book

import (
	"context"
	"database/sql"
	"errors"
	"fmt"
	"math/rand/v2"
	"path/filepath"
	"slices"
	"strings"
	"testing"
	"time"

	"soakline/checks"
	"soakline/device"
	"soakline/device/scpi"
)

// drawnBench writes a bench's book, of everything that a book can hold, by chance.
type drawnBench struct {
	*rand.Rand
	book  *Book
	bench string
	units []checks.UnitID
	soaks []SoakID
	at    time.Time
}

// drawBench makes one; units have numbers from first on.
func drawBench(t testing.TB, seed uint64, bench string, first int) *drawnBench {
	t.Helper()
	d := &drawnBench{Rand: rand.New(rand.NewPCG(seed, 7)), bench: bench, at: begin.Add(time.Duration(seed) * time.Hour)}
	d.book = openAt(t, filepath.Join(t.TempDir(), bench+".book"), Options{Now: func() time.Time { return d.at }})
	for i := range 1 + d.IntN(3) {
		id := checks.UnitID(fmt.Sprintf("B8-%04d", first+i))
		must(t, d.book.AddUnit(t.Context(), Unit{ID: id, Console: "Brambling 8", Added: d.later(), Notes: []Note{{Text: "picture dim"}, {Text: "picture dim"}}}))
		d.units = append(d.units, id)
	}
	d.live(t, 1+d.IntN(3))
	return d
}

// live goes on with the bench's days.
func (d *drawnBench) live(t testing.TB, days int) {
	t.Helper()
	run, err := d.book.BeginRun(t.Context(), d.bench)
	must(t, err)
	for range days {
		for _, unit := range d.units {
			d.round(t, unit)
			d.soak(t, unit)
			d.final(t, unit)
		}
		must(t, d.book.PutEvent(t.Context(), Event{Bench: d.bench, Event: device.Event{At: d.at, Instrument: "meter", Kind: "opened", Text: "by chance"}}))
		must(t, d.book.PutEvent(t.Context(), Event{Bench: d.bench, Event: device.Event{At: d.at, Instrument: "meter", Kind: "opened", Text: "by chance"}}))
	}
	must(t, d.book.EndRun(t.Context(), run))
}

func (d *drawnBench) later() time.Time {
	d.at = d.at.Add(time.Duration(1+d.Int64N(3_600_000_000)) * time.Microsecond)
	return d.at
}

func (d *drawnBench) tag(unit checks.UnitID) Tag {
	tag := rail
	tag.Bench, tag.Unit = d.bench, unit
	return tag
}

func (d *drawnBench) sheet() SheetCopy {
	return SheetCopy{Name: "brambling-8", Text: fmt.Appendf(nil, "%s# %d\n", sheetText, d.IntN(3))}
}

// readings are some of a unit, of each kind that a figure can be, twice the same now
// and then.
func (d *drawnBench) readings(t testing.TB, unit checks.UnitID, n int) {
	t.Helper()
	var all []TaggedReading
	for range n {
		value := scpi.NewDecimal(5_000_000+d.Int64N(20_000), -6)
		r := TaggedReading{d.tag(unit), device.Reading{Measure: rail.Measure, Value: value.Float64(), Digits: value, At: d.at, StandardUncertainty: 0.0007}}
		if d.IntN(10) == 0 {
			r.Value, r.Digits = d.NormFloat64(), scpi.Decimal{}
		}
		all = append(all, r)
		if d.IntN(10) == 0 {
			all = append(all, r)
		}
		d.at = d.at.Add(time.Duration(d.Int64N(2_000_000)) * time.Microsecond)
	}
	bt := &batch{readings: all}
	if d.IntN(3) == 0 {
		bt.lose(all[0], "queue full")
	}
	_, err := d.book.store(t.Context(), bt, newJournal())
	must(t, err)
}

func (d *drawnBench) round(t testing.TB, unit checks.UnitID) {
	t.Helper()
	ctx := t.Context()
	r := Round{Bench: d.bench, Unit: unit, Label: fmt.Sprintf("round of %d", d.at.UnixMicro()), Sheet: d.sheet(), Begin: d.later()}
	if d.IntN(3) == 0 {
		trial, err := d.book.BeginTrial(ctx, Trial{Unit: unit, Part: "R12", CandidateUnit: "ohms", Begin: d.at})
		must(t, err)
		r.Trial, r.Candidate = trial, 75
		must(t, d.book.EndTrial(ctx, trial, d.later(), 75))
	}
	id, err := d.book.BeginRound(ctx, r)
	must(t, err)
	reading := digits(t, d.tag(unit), d.at.Sub(begin), "5.0121")
	must(t, d.book.AddRoundReadings(ctx, id, RoundReading{TestPoint: "rail-5v", Instrument: "meter", Reading: reading.Reading, Averaged: 5}))
	d.capture(t, KeptCapture{Round: id, TestPoint: "composite", Instrument: "scope", Kind: CaptureRound})
	if d.IntN(4) > 0 {
		must(t, d.book.EndRound(ctx, id, d.later()))
	}
}

func (d *drawnBench) capture(t testing.TB, about KeptCapture) {
	t.Helper()
	record := scopeRecord(300)
	record.At = d.at
	_, err := d.book.AddCapture(t.Context(), about, record)
	must(t, err)
}

func (d *drawnBench) soak(t testing.TB, unit checks.UnitID) {
	t.Helper()
	ctx := t.Context()
	from := d.later()
	id, err := d.book.BeginSoak(ctx, Soak{Bench: d.bench, Place: "left", Unit: unit, Sheet: d.sheet(), Planned: time.Hour, Begin: from,
		Instruments: []SoakInstrument{{Name: "meter", Port: "/dev/ttyUSB0", Identity: "Saltmarsh,M6,7,1"}}})
	must(t, err)
	d.readings(t, unit, 50+d.IntN(200))
	key := checks.CheckKey{TestPoint: "rail-5v", Measure: rail.Measure}
	excursion := checks.Excursion{Check: key, State: checks.Outside, Edge: checks.HighEdge, From: from.Add(time.Second), Worst: 5.3, WorstAt: from, Limit: 5.25}
	must(t, d.book.PutExcursion(ctx, id, excursion))
	excursion.To = from.Add(2 * time.Second)
	must(t, errors.Join(d.book.PutExcursion(ctx, id, excursion), d.book.PutGap(ctx, id, checks.Gap{Check: key, From: from, To: from.Add(time.Second), Cause: "silent"}),
		d.book.PutPause(ctx, id, checks.Pause{From: from, To: from.Add(time.Second)})))
	d.capture(t, KeptCapture{Soak: id, TestPoint: "composite", Instrument: "scope", Kind: CaptureBegin})
	must(t, d.book.EndSoak(ctx, id, SoakStopped, d.later(), "enough"))
	for range 1 + d.IntN(2) {
		must(t, d.book.PutVerdict(ctx, id, d.later(), checks.Verdict{Outcome: checks.Fail, Unit: unit, Begin: from, Evidence: 0.5}))
	}
	d.soaks = append(d.soaks, id)
}

func (d *drawnBench) final(t testing.TB, unit checks.UnitID) {
	t.Helper()
	ctx := t.Context()
	id, err := d.book.BeginFinal(ctx, Final{Bench: d.bench, Place: "left", Unit: unit, Sheet: d.sheet(), Begin: d.later(),
		Instruments: []checks.FinalInstrument{{Name: "meter", Port: "/dev/ttyUSB0", Identity: "Saltmarsh,M6,7,1"}}})
	must(t, err)
	must(t, d.book.AddStepResult(ctx, id, checks.StepResult{Step: "soak", Kind: checks.StepSoak, Act: checks.Taken, Begin: d.at, End: d.at, Soak: int64(d.soaks[len(d.soaks)-1])}))
	must(t, errors.Join(d.book.EndFinal(ctx, id, d.later(), ""), d.book.PutFinalVerdict(ctx, id, d.at, checks.FinalVerdict{Outcome: checks.Pass, Unit: unit, Begin: d.at})))
}

// whole is all that a book has of a bench as a text, numbers of records aside.
func whole(t testing.TB, b *Book, bench string) string {
	t.Helper()
	ctx := t.Context()
	var out strings.Builder
	say := func(v any, err error) {
		must(t, err)
		fmt.Fprintf(&out, "%+v\n", v)
	}
	_, err := b.ExportCSV(ctx, &out, Filter{Bench: bench})
	must(t, err)
	say(b.Events(ctx, bench, time.Time{}, time.Time{}))
	say(b.Losses(ctx, Filter{Bench: bench}))
	runs, err := b.Runs(ctx, bench)
	for i := range runs {
		runs[i].ID = 0
	}
	say(runs, err)
	units, err := b.Units(ctx)
	must(t, err)
	for _, u := range units {
		of := contentsOfUnit(t, b, u.ID, bench)
		if of != "" {
			fmt.Fprintf(&out, "%+v\n%s", u, of)
		}
	}
	return out.String()
}

// contentsOfUnit is what a bench did with a unit.
func contentsOfUnit(t testing.TB, b *Book, unit checks.UnitID, bench string) string {
	t.Helper()
	ctx := t.Context()
	var out strings.Builder
	rounds, err := b.Rounds(ctx, unit)
	must(t, err)
	trials, err := b.Trials(ctx, unit)
	must(t, err)
	for _, r := range rounds {
		if r.Bench != bench {
			continue
		}
		if i := slices.IndexFunc(trials, func(one Trial) bool { return one.ID == r.Trial }); i >= 0 {
			trials[i].ID = 0
			fmt.Fprintf(&out, "%+v\n", trials[i])
		}
		captures, err := b.RoundCaptures(ctx, r.ID)
		must(t, err)
		r.ID, r.Trial = 0, 0
		fmt.Fprintf(&out, "%+v\n%s", r, contentsOfCaptures(t, b, captures))
	}
	soaks, err := b.Soaks(ctx, unit)
	must(t, err)
	numbers := make(map[int64]int64)
	for _, s := range soaks {
		if s.Bench == bench {
			numbers[int64(s.ID)] = s.Begin.UnixMicro()
			out.WriteString(contentsOfSoak(t, b, s))
		}
	}
	finals, err := b.Finals(ctx, unit)
	must(t, err)
	for _, f := range finals {
		if f.Bench != bench {
			continue
		}
		verdicts, err := b.FinalVerdicts(ctx, f.ID)
		must(t, err)
		for i := range verdicts {
			verdicts[i].Final = 0
		}
		for _, r := range f.Results {
			soak, err := b.SoakOfFinal(ctx, f.ID, SoakID(r.Soak))
			must(t, err)
			fmt.Fprintf(&out, "relies on the soak of %d\n", numbers[int64(soak)])
		}
		f.ID, f.Round = 0, 0
		fmt.Fprintf(&out, "%+v\n%+v\n", f, verdicts)
	}
	return out.String()
}

func contentsOfSoak(t testing.TB, b *Book, s Soak) string {
	t.Helper()
	ctx := t.Context()
	var out strings.Builder
	id := s.ID
	s.ID = 0
	fmt.Fprintf(&out, "%+v\n", s)
	say := func(v any, err error) {
		must(t, err)
		fmt.Fprintf(&out, "%+v\n", v)
	}
	say(b.Excursions(ctx, id))
	say(b.Gaps(ctx, id))
	say(b.Pauses(ctx, id))
	verdicts, err := b.Verdicts(ctx, id)
	for i := range verdicts {
		verdicts[i].Soak = 0
	}
	say(verdicts, err)
	thinned := b.Whole(ctx, id)
	say(errors.Is(thinned, ErrThinned), nil)
	captures, err := b.SoakCaptures(ctx, id)
	must(t, err)
	return out.String() + contentsOfCaptures(t, b, captures)
}

func contentsOfCaptures(t testing.TB, b *Book, captures []KeptCapture) string {
	t.Helper()
	var out strings.Builder
	for _, c := range captures {
		record, err := b.Capture(t.Context(), c.ID)
		must(t, err)
		c.ID, c.Soak, c.Round = 0, 0, 0
		fmt.Fprintf(&out, "%+v %v\n", c, record)
	}
	return out.String()
}

// rowsOf is every row of every table.
func rowsOf(t testing.TB, b *Book) string {
	t.Helper()
	var out strings.Builder
	for _, table := range tablesOf(t, b) {
		fmt.Fprintln(&out, table)
		rows, err := b.reading.QueryContext(t.Context(), "SELECT * FROM "+table)
		must(t, err)
		columns, err := rows.Columns()
		must(t, err)
		values, targets := make([]any, len(columns)), make([]any, len(columns))
		for i := range values {
			targets[i] = &values[i]
		}
		for rows.Next() {
			must(t, rows.Scan(targets...))
			fmt.Fprintln(&out, values...)
		}
		must(t, errors.Join(rows.Err(), rows.Close()))
	}
	return out.String()
}

func tablesOf(t testing.TB, b *Book) []string {
	t.Helper()
	tables, err := collect(t.Context(), b, "list tables", `SELECT name FROM sqlite_schema WHERE type = 'table' AND name NOT LIKE 'sqlite%' ORDER BY name`, nil,
		func(rows *sql.Rows) (name string, err error) { err = rows.Scan(&name); return name, err })
	must(t, err)
	return tables
}

// imported takes a book over and says what came of it.
func imported(t testing.TB, into, from *Book, how BookImport) BookImported {
	t.Helper()
	beside := openAt(t, from.Path(), Options{ReadOnly: true})
	done, err := into.ImportBook(t.Context(), beside, how, nil)
	if err != nil {
		t.Fatal(err)
	}
	return done
}

// nothingWrong has a book checked.
func nothingWrong(t testing.TB, b *Book) {
	t.Helper()
	problems, err := b.Check(context.WithoutCancel(t.Context()), nil)
	must(t, err)
	for _, p := range problems {
		t.Errorf("%s: %v", b.Path(), p)
	}
}

// TestImportBook draws two benches' books and takes them over into a third that has a
// bench of its own: all of each is there, numbers aside, both chains verify, and the
// second time nothing changes, in no table.
func TestImportBook(t *testing.T) {
	for seed := range uint64(2) {
		pier, quay := drawBench(t, 3*seed, "pier-end", 100), drawBench(t, 3*seed+1, "quay", 200)
		hall := drawBench(t, 3*seed+2, "hall", 300)
		own := whole(t, hall.book, "hall")
		for _, from := range []*drawnBench{pier, quay} {
			done := imported(t, hall.book, from.book, BookImport{})
			if done.Readings == 0 || done.Known != 0 || done.Soaks != int64(len(from.soaks)) || done.Units != int64(len(from.units)) || len(done.Told) > 0 {
				t.Errorf("seed %d: %+v", seed, done)
			}
		}
		for _, from := range []*drawnBench{pier, quay} {
			if want, got := whole(t, from.book, from.bench), whole(t, hall.book, from.bench); got != want {
				t.Fatalf("seed %d: %s came over as\n%.3000s\nwant\n%.3000s", seed, from.bench, got, want)
			}
		}
		if whole(t, hall.book, "hall") != own {
			t.Errorf("seed %d: what was here before has changed", seed)
		}
		nothingWrong(t, hall.book)
		before := rowsOf(t, hall.book)
		done := imported(t, hall.book, pier.book, BookImport{})
		if rowsOf(t, hall.book) != before || done.Readings+done.Units+done.Soaks+done.Rounds+done.Trials+done.Finals+done.Verdicts+done.Captures+done.Links+done.Others != 0 {
			t.Errorf("seed %d: the second import changed something: %+v", seed, done)
		}
		pier.live(t, 2)
		done = imported(t, hall.book, pier.book, BookImport{})
		if done.Soaks != int64(2*len(pier.units)) || whole(t, hall.book, "pier-end") != whole(t, pier.book, "pier-end") {
			t.Errorf("seed %d: two days later: %+v", seed, done)
		}
		nothingWrong(t, hall.book)
		if t.Failed() {
			return
		}
	}
}

// TestEveryTableIsTakenOver: a table that comes to the book has to be thought of here.
func TestEveryTableIsTakenOver(t *testing.T) {
	taken := []string{"unit", "series", "block", "block_data", "overview", "tail", "thinned", "thinning", "chain",
		"other_book", "other_unit", "other_record", "other_link"}
	taken = append(append(append(taken, soakParts...), roundParts...), finalParts...)
	taken = append(taken, wholeTables...)
	for _, c := range counted {
		taken = append(taken, c.table)
	}
	for _, c := range []copied{copiedRun, copiedTrial, copiedRound, copiedSoak, copiedVerdict, copiedFinal, copiedFinalVerdict, copiedCapture} {
		taken = append(taken, c.table)
	}
	ofThisBook := []string{"about", "ship_target", "ship_place", "ship_refused"} // how far its own targets are
	for _, table := range tablesOf(t, openNew(t)) {
		if !slices.Contains(taken, table) && !slices.Contains(ofThisBook, table) {
			t.Errorf("table %s is neither taken over by an import of a book nor said to be this book's alone", table)
		}
	}
}

package book

import (
	"errors"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"
	"time"

	"soakline/checks"
)

// noticed asserts that a check finds something that says so.
func noticed(t *testing.T, b *Book, words ...string) {
	t.Helper()
	var all []string
	for _, p := range checked(t, b) {
		all = append(all, p.String())
	}
	text := strings.Join(all, "\n")
	for _, word := range words {
		if !strings.Contains(text, word) {
			t.Errorf("the check says\n%s\nnot %q", text, word)
		}
	}
}

// copyOf is a copy of a book's file, opened.
func copyOf(t *testing.T, b *Book) *Book {
	t.Helper()
	_, err := b.writing.ExecContext(t.Context(), `PRAGMA wal_checkpoint(TRUNCATE)`)
	must(t, err)
	text, err := os.ReadFile(b.Path())
	must(t, err)
	path := filepath.Join(t.TempDir(), "copy.book")
	must(t, os.WriteFile(path, text, 0o600))
	return openAt(t, path, Options{})
}

// TestImportBookRefusesABrokenChain: nothing of it comes over, and the message says
// what does not fit and what can be done.
func TestImportBookRefusesABrokenChain(t *testing.T) {
	drawn := drawBench(t, 5, "quay", 100).book
	for _, change := range []string{
		`UPDATE excursion SET worst = 5.251`, `UPDATE verdict SET outcome = 'pass'`, `DELETE FROM chain WHERE position = 2`,
		`UPDATE chain SET digest = hash WHERE position = 1`, `UPDATE final_test SET end_us = end_us + 1`,
	} {
		from := copyOf(t, drawn)
		_, err := from.writing.ExecContext(t.Context(), change)
		must(t, err)
		into := openNew(t)
		before := rowsOf(t, into)
		_, err = into.ImportBook(t.Context(), from, BookImport{}, nil)
		checkRefusal(t, err, ErrDamaged, from.Path(), "nothing was imported")
		if !strings.Contains(err.Error(), "chain") || rowsOf(t, into) != before {
			t.Errorf("%s: %v", change, err)
		}
	}
}

// TestImportedChainsAreChecked: a record that is changed after it was taken over does
// not fit the chain of this book, nor that of the book where it was written; and who
// makes this book's chain anew is betrayed by the other one.
func TestImportedChainsAreChecked(t *testing.T) {
	from, merged := drawBench(t, 5, "quay", 100), openNew(t)
	imported(t, merged, from.book, BookImport{})
	nothingWrong(t, merged)
	for _, test := range []struct{ name, change, want string }{
		{"a worst figure", `UPDATE excursion SET worst = 5.251`, "book of quay, chain position"},
		{"an outcome", `UPDATE verdict SET outcome = 'pass'`, "the record was changed after it was chained there"},
		{"a soak's begin", `UPDATE soak SET begin_us = begin_us - 1`, "the record was changed after it was chained there"},
		{"a verdict is gone", `PRAGMA foreign_keys = 0; DELETE FROM verdict WHERE id = 1`, "it is not in the book"},
		{"a final test", `UPDATE final_verdict SET outcome = 'fail'`, "the record was changed after it was chained there"},
		{"their link", `UPDATE other_link SET digest = hash WHERE position = 2`, "book of quay, chain position 2"},
		{"their link is gone", `DELETE FROM other_link WHERE position = 2`, "the link before it is number 1"},
		{"its number", `PRAGMA foreign_keys = 0; DELETE FROM other_record WHERE kind = 'verdict'`, "it is not in the book"},
		{"its unit", `DELETE FROM other_unit`, "unit: "},
		{"the chain made anew", `UPDATE verdict SET outcome = 'pass'; DELETE FROM chain`, "book of quay, chain position"},
	} {
		t.Run(test.name, func(t *testing.T) {
			into := copyOf(t, merged)
			_, err := into.writing.ExecContext(t.Context(), test.change)
			must(t, err)
			noticed(t, into, test.want)
		})
	}
}

// TestOriginIsNamed: the links here say where a record was chained first, also when it
// came by way of a third book.
func TestOriginIsNamed(t *testing.T) {
	from, between, into := drawBench(t, 5, "quay", 100), openNew(t), openNew(t)
	imported(t, between, from.book, BookImport{})
	imported(t, into, between, BookImport{})
	identity, err := from.book.Identity(t.Context())
	must(t, err)
	head, err := into.ChainHead(t.Context())
	must(t, err)
	if !strings.HasPrefix(head.Origin, identity+" ") || !strings.Contains(head.Origin, ":") {
		t.Errorf("origin %q", head.Origin)
	}
	others, err := into.OtherBooks(t.Context())
	if err != nil || len(others) != 2 || others[1].Identity != identity || others[1].Links == 0 {
		t.Fatalf("%+v (%v)", others, err)
	}
	link, err := into.OtherChainAt(t.Context(), others[1], 3)
	theirs, errTheirs := from.book.ChainAt(t.Context(), 3)
	if must(t, errors.Join(err, errTheirs)); link != theirs {
		t.Errorf("link 3 is %+v there and %+v here", theirs, link)
	}
	if _, err := into.OtherChainAt(t.Context(), others[1], 1e6); !errors.Is(err, ErrNotFound) {
		t.Errorf("a link that is not there: %v", err)
	}
}

// TestWaysToOneBook: what comes by two ways is there once.
func TestWaysToOneBook(t *testing.T) {
	from, between := drawBench(t, 5, "quay", 100), drawBench(t, 8, "pier-end", 200)
	imported(t, between.book, from.book, BookImport{})
	for _, ways := range [][]*Book{{from.book, between.book}, {between.book, from.book}} {
		into := openNew(t)
		for _, way := range ways {
			imported(t, into, way, BookImport{})
		}
		for _, bench := range []string{"quay", "pier-end"} {
			if whole(t, into, bench) != whole(t, between.book, bench) {
				t.Errorf("%s came over otherwise", bench)
			}
		}
		nothingWrong(t, into)
	}
	done := imported(t, from.book, between.book, BookImport{}) // and back
	if whole(t, from.book, "quay") != whole(t, between.book, "quay") || done.Soaks != int64(len(between.soaks)) {
		t.Errorf("back: %+v", done)
	}
	nothingWrong(t, from.book)
}

// TestTwoUnitsOfOneNumber: the import says so before it writes anything, and goes on
// as it is told, the next time without being told again.
func TestTwoUnitsOfOneNumber(t *testing.T) {
	pier, quay := drawBench(t, 5, "pier-end", 100), drawBench(t, 8, "quay", 100)
	before := rowsOf(t, pier.book)
	refused := func(how BookImport, words ...string) {
		t.Helper()
		_, err := pier.book.ImportBook(t.Context(), quay.book, how, nil)
		checkRefusal(t, err, ErrExists, pier.book.Path(), "nothing was imported")
		for _, word := range words {
			if !strings.Contains(err.Error(), word) {
				t.Errorf("%v does not say %q", err, word)
			}
		}
		if rowsOf(t, pier.book) != before {
			t.Error("something was written")
		}
	}
	refused(BookImport{}, "unit B8-0100 here (Brambling 8, booked in 2026-03-14", "--same-units", "--rename")
	refused(BookImport{Rename: map[checks.UnitID]checks.UnitID{"B8-9999": "B8-1"}}, "no unit B8-9999")
	rename := map[checks.UnitID]checks.UnitID{}
	for _, unit := range quay.units {
		rename[unit] = unit + "Q"
	}
	must(t, pier.book.AddUnit(t.Context(), Unit{ID: "B8-0100Q", Console: "Corncrake II"}))
	before = rowsOf(t, pier.book)
	refused(BookImport{Rename: rename}, "unit B8-0100 cannot become B8-0100Q: that is another unit here (Corncrake II")
	rename["B8-0100"] = "B8-0100R"
	own := whole(t, pier.book, "pier-end")
	done := imported(t, pier.book, quay.book, BookImport{Rename: rename})
	if len(done.Told) != len(quay.units) || done.Units != int64(len(quay.units)) || whole(t, pier.book, "pier-end") != own {
		t.Errorf("%+v", done)
	}
	soaks, err := pier.book.Soaks(t.Context(), "B8-0100R")
	if err != nil || len(soaks) == 0 || soaks[0].Bench != "quay" {
		t.Errorf("soaks of B8-0100R %v (%v)", soaks, err)
	}
	nothingWrong(t, pier.book)
	before = rowsOf(t, pier.book)
	imported(t, pier.book, quay.book, BookImport{})
	if rowsOf(t, pier.book) != before {
		t.Error("the second import changed something")
	}
	refused(BookImport{Rename: map[checks.UnitID]checks.UnitID{"B8-0100": "B8-0100S"}}, "goes by B8-0100R here since it was imported first")
}

// TestOneUnitOnTwoBenches: its rounds and soaks stand together, labels that both
// benches gave told apart, and that it was booked in twice is noted.
func TestOneUnitOnTwoBenches(t *testing.T) {
	pier, quay := drawBench(t, 5, "pier-end", 100), drawBench(t, 8, "quay", 100)
	for _, d := range []*drawnBench{pier, quay} {
		round := aRound("as received")
		round.Bench, round.Unit, round.Begin = d.bench, "B8-0100", d.later()
		_, err := d.book.BeginRound(t.Context(), round)
		must(t, err)
	}
	done := imported(t, pier.book, quay.book, BookImport{SameUnits: true})
	if len(done.Told) != 1 || !strings.Contains(done.Told[0], `round "as received" of unit B8-0100 is "as received (quay)" here`) {
		t.Errorf("told %q", done.Told)
	}
	for _, label := range []string{"as received", "as received (quay)"} {
		if _, err := pier.book.Round(t.Context(), "B8-0100", label); err != nil {
			t.Error(err)
		}
	}
	unit, err := pier.book.Unit(t.Context(), "B8-0100")
	if err != nil || !slices.ContainsFunc(unit.Notes, func(n Note) bool { return n.Text == "booked in at quay as well" }) {
		t.Errorf("%+v (%v)", unit, err)
	}
	nothingWrong(t, pier.book)
	before := rowsOf(t, pier.book)
	done = imported(t, pier.book, quay.book, BookImport{})
	if rowsOf(t, pier.book) != before || len(done.Told) > 0 {
		t.Errorf("the second import changed something: %+v", done)
	}
	other := openNew(t)
	must(t, other.AddUnit(t.Context(), Unit{ID: "B8-0100", Console: "Corncrake II"}))
	_, err = other.ImportBook(t.Context(), quay.book, BookImport{SameUnits: true}, nil)
	checkRefusal(t, err, ErrExists, other.Path(), "unit B8-0100 here (Corncrake II")
}

// TestImportBookPassesOverWhatRuns: a soak and a final test that have not ended come
// with the next import, when they have.
func TestImportBookPassesOverWhatRuns(t *testing.T) {
	from, into := drawBench(t, 5, "quay", 100), openNew(t)
	ctx := t.Context()
	soak, err := from.book.BeginSoak(ctx, Soak{Bench: "quay", Place: "left", Unit: "B8-0100", Sheet: from.sheet(), Planned: time.Hour, Begin: from.later()})
	must(t, err)
	must(t, from.book.PutExcursion(ctx, soak, checks.Excursion{Check: someExcursion().Check, State: checks.Outside, From: from.at, WorstAt: from.at, Worst: 6}))
	final, err := from.book.BeginFinal(ctx, Final{Bench: "quay", Place: "left", Unit: "B8-0100", Sheet: from.sheet(), Begin: from.later()})
	must(t, err)
	done := imported(t, into, from.book, BookImport{})
	if len(done.Told) != 2 || !strings.Contains(done.Told[0], "unit B8-0100, has not ended there and was passed over: import again when it has") {
		t.Errorf("told %q", done.Told)
	}
	nothingWrong(t, into)
	from.readings(t, "B8-0100", 10)
	ended := checks.Excursion{Check: someExcursion().Check, State: checks.Outside, From: from.at, WorstAt: from.at, Worst: 6, To: from.later()}
	must(t, errors.Join(from.book.PutExcursion(ctx, soak, ended), from.book.EndSoak(ctx, soak, SoakEnded, from.later(), ""), from.book.EndFinal(ctx, final, from.later(), "tired")))
	done = imported(t, into, from.book, BookImport{})
	if done.Soaks != 1 || done.Finals != 1 || len(done.Told) > 0 || whole(t, into, "quay") != whole(t, from.book, "quay") {
		t.Errorf("%+v", done)
	}
	nothingWrong(t, into)
}

// TestImportBookRefusesOthers: itself, a copy of itself, and a book that is not the one
// which was taken over before.
func TestImportBookRefusesOthers(t *testing.T) {
	from, into := drawBench(t, 5, "quay", 100), openNew(t)
	copyPath := into.Path() + ".copy"
	_, err := from.book.Backup(t.Context(), copyPath, nil)
	must(t, err)
	older := openAt(t, copyPath, Options{})
	for _, same := range []*Book{from.book, older} {
		_, err := from.book.ImportBook(t.Context(), same, BookImport{}, nil)
		checkRefusal(t, err, ErrInvalid, from.book.Path(), "it is this book, or a copy of it")
	}
	from.live(t, 1)
	imported(t, into, older, BookImport{}) // a copy first, then the book itself
	imported(t, into, from.book, BookImport{})
	nothingWrong(t, into)
	before := rowsOf(t, into)
	_, err = into.ImportBook(t.Context(), older, BookImport{}, nil)
	checkRefusal(t, err, ErrDamaged, older.Path(), "went back to an older copy")
	if rowsOf(t, into) != before {
		t.Error("something was written")
	}
	beside := openAt(t, into.Path(), Options{ReadOnly: true})
	_, err = beside.ImportBook(t.Context(), from.book, BookImport{}, nil)
	checkRefusal(t, err, ErrReadOnly, into.Path(), "")
}

// TestImportOfThinned: envelopes come over where there are no readings, and readings
// stay envelopes where this book thinned them.
func TestImportOfThinned(t *testing.T) {
	const days = 24 * time.Hour
	old, id := oldSoak(t)
	all := len(readAll(t, old, Filter{}))
	early, late := openNew(t), openAt(t, old.Path()+".2", Options{Now: func() time.Time { return begin.Add(90 * days) }})
	imported(t, early, old, BookImport{})
	done, err := after(t, old, 90*days).Thin(t.Context(), Thin{OlderThan: 30 * days})
	must(t, err)
	for _, b := range []*Book{early, late} {
		imported(t, b, old, BookImport{})
		before := rowsOf(t, b)
		if imported(t, b, old, BookImport{}); rowsOf(t, b) != before {
			t.Error("the second import changed something")
		}
		nothingWrong(t, b)
	}
	if n := len(readAll(t, early, Filter{})); n != all || early.Whole(t.Context(), id) != nil {
		t.Errorf("%d readings of %d are left where they were before", n, all)
	}
	if n := len(readAll(t, late, Filter{})); n != all-int(done[0].Readings) || !errors.Is(late.Whole(t.Context(), id), ErrThinned) {
		t.Errorf("%d readings, want %d without those that were thinned", n, all-int(done[0].Readings))
	}
	for _, b := range []*Book{early, late} { // charts show the envelopes
		want, err := old.Envelopes(t.Context(), Filter{}, 20)
		must(t, err)
		sameChart(t, b, want[0])
	}
	if _, err := late.Thin(t.Context(), Thin{OlderThan: 30 * days}); err != nil {
		t.Error(err)
	}
	imported(t, late, early, BookImport{})
	if n := len(readAll(t, late, Filter{})); n != all-int(done[0].Readings) {
		t.Errorf("%d readings came back", n)
	}
}

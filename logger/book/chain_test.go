package book

import (
	"bytes"
	"context"
	"database/sql"
	"errors"
	"fmt"
	"math"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"soakline/checks"
)

// chainedBook has five links: two excursions, one of them brought up to date, and
// two verdicts.
func chainedBook(t *testing.T) (*Book, SoakID) {
	t.Helper()
	b, id := soaked(t)
	lasting := someExcursion()
	lasting.From, lasting.To = begin.Add(3*time.Hour), time.Time{}
	ended := lasting
	ended.To = begin.Add(4 * time.Hour)
	ctx := t.Context()
	must(t, errors.Join(b.PutExcursion(ctx, id, someExcursion()), b.PutExcursion(ctx, id, lasting), b.PutExcursion(ctx, id, ended),
		b.PutExcursion(ctx, id, ended), // as it is already: no link
		b.PutVerdict(ctx, id, begin, checks.Verdict{Outcome: checks.Fail, Evidence: math.NaN()}),
		b.PutVerdict(ctx, id, begin, checks.Verdict{Outcome: checks.Fail, Evidence: 0.5})))
	return b, id
}

func TestChainGrows(t *testing.T) {
	b, id := chainedBook(t)
	head, err := b.ChainHead(t.Context())
	if err != nil || head.Position != 5 || head.Kind != "verdict" || head.Record != "[2]" || !head.At.Equal(begin) || len(head.ShortHash()) != 16 {
		t.Errorf("%+v (%v)", head, err)
	}
	of, err := b.VerdictLink(t.Context(), id)
	if err != nil || of != head {
		t.Errorf("link of the verdict %+v (%v)", of, err)
	}
	at, err := b.ChainAt(t.Context(), 3)
	if err != nil || at.Kind != "excursion" || at.Record != fmt.Sprintf(`[1,"rail-5v","dc-voltage",%d,"outside"]`, begin.Add(3*time.Hour).UnixMicro()) {
		t.Errorf("third link %+v (%v)", at, err)
	}
	if problems := checked(t, b); len(problems) > 0 {
		t.Errorf("a whole chain: %v", problems)
	}
}

func TestChainOfNothing(t *testing.T) {
	b, id := soaked(t)
	ctx := t.Context()
	for name, err := range map[string]error{
		"head": second(b.ChainHead(ctx)), "position": second(b.ChainAt(ctx, 1)), "verdict": second(b.VerdictLink(ctx, id)),
	} {
		if !errors.Is(err, ErrNotFound) {
			t.Errorf("%s: %v, want %v", name, err, ErrNotFound)
		}
	}
}

// TestChainHashes holds the form of what is hashed: a book of years ago must still
// verify. The hashes are those that sha256sum (GNU coreutils) gives of the texts
// shown (FIPS 180-4).
func TestChainHashes(t *testing.T) {
	b, _ := chainedBook(t)
	const record = `[1,"rail-5v","dc-voltage",1773484013589793,"outside"]`
	const wantText = `["excursion",["soak",1],["test_point","rail-5v"],["measure","dc-voltage"],["from_us",1773484013589793],` +
		`["to_us",1773487613589793],["state","outside"],["edge","high"],["worst","5.31"],["worst_at_us",1773485813589793],` +
		`["worst_u","0.0007"],["edge_value","5.25"]]`
	text, err := canonical(t.Context(), b.reading, "excursion", record)
	if err != nil || string(text) != wantText {
		t.Errorf("canonical text %s (%v)", text, err)
	}
	first, err := b.ChainAt(t.Context(), 1)
	const wantDigest = "9ecd090b289fa0536bb85d82997791c7c66b476a4edb81df96b32aed2a8a04f8"
	if err != nil || first.Record != record || first.Digest != wantDigest {
		t.Errorf("digest %s (%v), want %s", first.Digest, err, wantDigest)
	}
	// {"At":"2026-03-14T09:26:53.589793Z","Digest":"…as above","Kind":"excursion","Origin":"","Position":1,"PreviousHash":"","Record":"[1,\"rail-5v\",…]"}
	const wantHash = "3023531425523c973e2e9b94caceb6f335611ff111a28faed57ba5238009b4d1"
	if first.Hash != wantHash {
		t.Errorf("hash %s, want %s", first.Hash, wantHash)
	}
}

// TestCheckNamesTheFirstBrokenRecord changes one thing behind the chain's back.
func TestCheckNamesTheFirstBrokenRecord(t *testing.T) {
	const excursion = "chain position 1 (excursion of soak 1 at rail-5v dc-voltage from 1773484013589793 µs, outside)"
	for _, test := range []struct{ name, change, place, text string }{
		{"a worst figure", `UPDATE excursion SET worst = 5.251 WHERE from_us = 1773484013589793`, excursion, "was changed after it was chained"},
		{"an outcome", `UPDATE verdict SET outcome = 'pass' WHERE id = 1`, "chain position 4 (verdict 1)", "was changed"},
		{"a verdict's text", `UPDATE verdict SET whole = CAST(replace(CAST(whole AS TEXT), 'fail', 'pass') AS BLOB) WHERE id = 2`, "chain position 5 (verdict 2)", "was changed"},
		{"evidence where there was none", `UPDATE verdict SET evidence = 1 WHERE id = 1`, "chain position 4 (verdict 1)", "was changed"},
		{"whose soak it was", `PRAGMA foreign_keys = 0; UPDATE soak SET unit = 'B8-0001'`, "chain position 4 (verdict 1)", "was changed"},
		{"when the soak began", `UPDATE soak SET begin_us = begin_us + 1`, "chain position 4 (verdict 1)", "was changed"},
		{"an excursion is gone", `DELETE FROM excursion WHERE from_us = 1773484013589793`, excursion, "it is not in the book"},
		{"a verdict is gone", `DELETE FROM verdict WHERE id = 2`, "chain position 5 (verdict 2)", "it is not in the book"},
		{"a verdict is put in", `INSERT INTO verdict SELECT 9, soak, at_us, outcome, evidence, sheet_hash, whole FROM verdict WHERE id = 2`, "verdict 9", "it is not in the chain"},
		{"a link's digest", `UPDATE chain SET digest = (SELECT digest FROM chain WHERE position = 4) WHERE position = 5`, "chain position 5 (verdict 2)", "the chain breaks here"},
		{"a link's time", `UPDATE chain SET at_us = at_us + 1 WHERE position = 2`, "chain position 2 (excursion", "the chain breaks here"},
		{"a link's origin", `UPDATE chain SET origin = 'elsewhere' WHERE position = 2`, "chain position 2 (excursion", "the chain breaks here"},
		{"a link made anew", `UPDATE chain SET hash = hex(randomblob(32)) WHERE position = 2`, "chain position 2 (excursion", "the chain breaks here"},
		{"a link is gone", `DELETE FROM chain WHERE position = 2`, "chain position 3 (excursion", "the link before it is number 1"},
		{"links change places", `UPDATE chain SET position = 99 WHERE position = 1; UPDATE chain SET position = 1 WHERE position = 2; UPDATE chain SET position = 2 WHERE position = 99`,
			"chain position 1 (excursion", "the chain breaks here"},
		{"a kind that nobody knows", `UPDATE chain SET kind = 'blessing' WHERE position = 5`, "chain position 5 (blessing [2])", "the chain breaks here"},
		{"a key that is none", `UPDATE chain SET record = '[1' WHERE position = 5`, "chain position 5 (verdict [1)", "the chain breaks here"},
	} {
		t.Run(test.name, func(t *testing.T) {
			b, _ := chainedBook(t)
			_, err := b.writing.ExecContext(t.Context(), test.change)
			must(t, err)
			var first Problem
			for _, p := range checked(t, b) {
				if strings.HasPrefix(p.Place, "chain") || strings.Contains(p.Text, "chain") {
					first = p
					break
				}
			}
			if !strings.HasPrefix(first.Place, test.place) || !strings.Contains(first.Text, test.text) || first.Mendable {
				t.Errorf("first is %q, want %q: %q", first, test.place, test.text)
			}
		})
	}
}

// TestLastLinksTakenOff: a chain that is cut short with its records verifies, which
// is why a position and hash are printed elsewhere.
func TestLastLinksTakenOff(t *testing.T) {
	b, _ := chainedBook(t)
	printed, err := b.ChainHead(t.Context())
	must(t, err)
	_, err = b.writing.ExecContext(t.Context(), `DELETE FROM chain WHERE position = 5; DELETE FROM verdict WHERE id = 2`)
	must(t, err)
	if problems := checked(t, b); len(problems) > 0 {
		t.Errorf("%v", problems)
	}
	if _, err := b.ChainAt(t.Context(), printed.Position); !errors.Is(err, ErrNotFound) {
		t.Errorf("the printed position: %v", err)
	}
}

// TestChainIsWrittenWithItsRecord: where the link cannot be written, the record is
// not there either.
func TestChainIsWrittenWithItsRecord(t *testing.T) {
	b, id := soaked(t)
	_, err := b.writing.ExecContext(t.Context(), `CREATE TRIGGER no BEFORE INSERT ON chain BEGIN SELECT raise(ABORT, 'no room'); END`)
	must(t, err)
	if err := b.PutExcursion(t.Context(), id, someExcursion()); err == nil {
		t.Error("an excursion without a link")
	}
	if err := b.PutVerdict(t.Context(), id, begin, checks.Verdict{Outcome: checks.Pass}); err == nil {
		t.Error("a verdict without a link")
	}
	if found, err := b.Excursions(t.Context(), id); len(found) > 0 || err != nil {
		t.Errorf("%v (%v)", found, err)
	}
	if found, err := b.Verdicts(t.Context(), id); len(found) > 0 || err != nil {
		t.Errorf("%v (%v)", found, err)
	}
}

// TestOlderBookIsChained: what was there before there was a chain gets its links.
func TestOlderBookIsChained(t *testing.T) {
	path := filepath.Join(t.TempDir(), "bench.book")
	b, err := openForm(t, path, Options{}, shipped()[:2])
	must(t, err)
	addUnit(t, b, "B8-0147")
	id, err := b.BeginSoak(t.Context(), aSoak())
	must(t, err)
	must(t, b.write(t.Context(), "fill", func(tx *sql.Tx) error { return fillOlder(t.Context(), tx, id) }))
	must(t, b.Close())
	b = openAt(t, path, Options{})
	head, err := b.ChainHead(t.Context())
	if err != nil || head.Position != 4 || head.Kind != "verdict" || head.Origin != "before form 3" {
		t.Errorf("%+v (%v)", head, err)
	}
	if problems := checked(t, b); len(problems) > 0 {
		t.Errorf("%v", problems)
	}
}

// fillOlder writes three excursions and a verdict as form 2 had them.
func fillOlder(ctx context.Context, tx *sql.Tx, id SoakID) error {
	for i := range 3 {
		if _, err := tx.ExecContext(ctx, `INSERT INTO excursion VALUES (?, 'rail-5v', 'dc-voltage', ?, NULL, 'outside', 'high', 5.3, 1, NULL, 5.25)`,
			int64(id), 1000-i); err != nil {
			return err
		}
	}
	_, err := tx.ExecContext(ctx, `INSERT INTO verdict VALUES (NULL, ?, 1, 'fail', 1, '3f2a', CAST('{"Outcome":"fail"}' AS BLOB))`, int64(id))
	return err
}

func TestChainRefusesOddKeys(t *testing.T) {
	b, _ := chainedBook(t)
	for _, test := range []struct{ kind, record, want string }{
		{"blessing", "[1]", "no chained record of kind"},
		{"verdict", "[1,2]", "2 parts, not 1"},
		{"verdict", "[1.5]", "invalid syntax"},
		{"verdict", "1", "cannot unmarshal"},
		{"verdict", "", "EOF"},
		{"verdict", "[99]", "not in the book"},
	} {
		if _, err := canonical(t.Context(), b.reading, test.kind, test.record); err == nil || !strings.Contains(err.Error(), test.want) {
			t.Errorf("%s %s: %v, want %q", test.kind, test.record, err, test.want)
		}
	}
}

// TestImportLeavesTheChain: readings of another bench's book are no records of the
// chain, nor are its verdicts and excursions, of which only the lines come in.
func TestImportLeavesTheChain(t *testing.T) {
	other, _ := judgedSoak(t)
	var lines bytes.Buffer
	_, err := other.ExportLines(t.Context(), &lines, Filter{})
	must(t, err)
	b, _ := chainedBook(t)
	before, err := b.ChainHead(t.Context())
	must(t, err)
	count, err := b.ImportLines(t.Context(), &lines, nil)
	if err != nil || count.Readings != 1 || count.Others+count.KnownOthers != 3 {
		t.Fatalf("%+v (%v)", count, err)
	}
	if after, err := b.ChainHead(t.Context()); err != nil || after != before {
		t.Errorf("%+v (%v), before %+v", after, err, before)
	}
	if problems := checked(t, b); len(problems) > 0 {
		t.Errorf("%v", problems)
	}
}

// TestOriginIsHashed: a record that was taken over from another book says where it
// was first chained, and that cannot be changed later.
func TestOriginIsHashed(t *testing.T) {
	b, id := soaked(t)
	const insert = `INSERT INTO verdict (id, soak, at_us, outcome, evidence, sheet_hash, whole) VALUES (7, ?, 1, 'pass', 1, '3f2a', CAST('{}' AS BLOB))`
	must(t, b.write(t.Context(), "take over", func(tx *sql.Tx) error {
		if _, err := tx.ExecContext(t.Context(), insert, int64(id)); err != nil {
			return err
		}
		return chain(t.Context(), tx, begin, "verdict", recordKey(int64(7)), "bench pier-end, 12:3f2a99c0d1e2f304")
	}))
	link, err := b.VerdictLink(t.Context(), id)
	if err != nil || link.Origin != "bench pier-end, 12:3f2a99c0d1e2f304" || len(checked(t, b)) > 0 {
		t.Errorf("%+v (%v)", link, err)
	}
}

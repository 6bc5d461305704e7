package book

import (
	"bytes"
	"errors"
	"io"
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"

	"soakline/checks"
	"soakline/device"
)

// judgedFinalTest is a book with a final test that has ended, and its verdict.
func judgedFinalTest(t *testing.T) (*Book, FinalID) {
	t.Helper()
	b, id := finalBook(t)
	must(t, errors.Join(b.EndFinal(t.Context(), id, begin.Add(time.Hour), ""),
		b.PutFinalVerdict(t.Context(), id, begin.Add(time.Hour), checks.FinalVerdict{Outcome: checks.Fail, Unit: "B8-0147", SheetName: "brambling-8", SheetHash: "3f2a",
			Reasons: []checks.StepReason{{Kind: checks.AnsweredNo, Step: "sound", Text: `sound: answered "no"`}, {Kind: checks.StepSkipped, Step: "level", Text: "level: skipped: no probe"}}})))
	return b, id
}

func TestFinalVerdictsAsLines(t *testing.T) {
	b, id := judgedFinalTest(t)
	var text bytes.Buffer
	count, err := b.ExportLines(t.Context(), &text, Filter{})
	if err != nil || count != (Exported{Verdicts: 1}) {
		t.Fatalf("%+v, %v", count, err)
	}
	want := []line{{"verdict", [][2]string{{"bench", "pier-end"}, {"console", "Brambling 8"}, {"unit", "B8-0147"}}, map[string]any{
		"final": int64(id), "outcome": "fail", "reasons": "sound: answered \"no\"\nlevel: skipped: no probe", "sheet": "brambling-8", "sheet_hash": "3f2a",
	}, begin.Add(time.Hour).UnixNano()}}
	if diff := cmp.Diff(want, decode(t, text.Bytes()), cmp.AllowUnexported(line{})); diff != "" {
		t.Error(diff)
	}
	for _, row := range []struct {
		filter Filter
		want   int64
	}{
		{Filter{Unit: "B8-0147", Console: "Brambling 8", Bench: "pier-end"}, 1}, {Filter{Unit: "CC2-0003"}, 0}, {Filter{Bench: "quay"}, 0}, {Filter{Console: "Corncrake II"}, 0},
		{Filter{TestPoint: "rail-5v"}, 0}, {Filter{Measure: device.DCVoltage}, 0}, {Filter{Instrument: "meter"}, 0}, {Filter{Soak: 1}, 0},
		{Filter{Since: begin.Add(time.Hour)}, 1}, {Filter{Since: begin.Add(time.Hour + time.Microsecond)}, 0}, {Filter{Until: begin.Add(time.Hour)}, 0},
	} {
		if got, err := b.ExportLines(t.Context(), io.Discard, row.filter); err != nil || got.Verdicts != row.want {
			t.Errorf("%+v gives %+v (%v), want %d", row.filter, got, err, row.want)
		}
	}
	o, err := b.Outgoing(t.Context(), "store")
	must(t, err)
	to := &shipment{has: map[string]int{}}
	drain(t, o, to, 1)
	to.hold(t, b)
	if len(to.order) != 1 {
		t.Errorf("shipped: %q", to.order)
	}
}

// TestFinalVerdictsOfOtherBooks: a line about a final test of this book is not kept
// beside it; that of another book is, and is given again byte by byte.
func TestFinalVerdictsOfOtherBooks(t *testing.T) {
	b, _ := judgedFinalTest(t)
	var text bytes.Buffer
	_, err := b.ExportLines(t.Context(), &text, Filter{})
	must(t, err)
	other := openNew(t)
	for _, row := range []struct {
		name string
		into *Book
		want int64
	}{{"its own", b, 0}, {"another", other, 1}, {"another again", other, 0}} {
		done, err := row.into.ImportLines(t.Context(), bytes.NewReader(text.Bytes()), func(Imported) {})
		if err != nil || done.Others != row.want {
			t.Errorf("%s: %+v (%v), want %d", row.name, done, err, row.want)
		}
		var again bytes.Buffer
		count, err := row.into.ExportLines(t.Context(), &again, Filter{})
		if err != nil || count.Verdicts != 1 || again.String() != text.String() {
			t.Errorf("%s: exported %+v (%v)\n%s", row.name, count, err, &again)
		}
	}
	info, err := b.Info(t.Context())
	if err != nil || info.Finals != 1 || info.FinalVerdicts != 1 || info.Verdicts != 0 {
		t.Errorf("info %+v (%v)", info, err)
	}
}

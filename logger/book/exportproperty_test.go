package book

import (
	"context"
	"errors"
	"fmt"
	"math"
	"strings"
	"testing"
	"time"

	"pgregory.net/rapid"

	"soakline/checks"
	"soakline/device"
)

// drawnNames are what people and instruments call things, some with what a line cannot
// carry; control characters sort otherwise than their pictures.
var drawnNames = []string{"quay", "pier, west", "two\nlines", "a\x01", "a!", "a␁", `C:\dir\`, "bad \xff", "75 Ω", "k=v", `"8"`}

func drawName(t *rapid.T, what string) string { return rapid.SampledFrom(drawnNames).Draw(t, what) }

// drawReadings makes readings of few series, many of one time or going back.
func drawReadings(t *rapid.T) []TaggedReading {
	figures := rapid.SliceOfN(rapid.Custom(anyFigure), 0, 60).Draw(t, "figures")
	tags := rapid.SliceOfN(rapid.Custom(func(t *rapid.T) Tag {
		return Tag{drawName(t, "bench"), "Brambling 8", checks.UnitID(drawName(t, "unit")), checks.TestPointName(drawName(t, "point")),
			rapid.SampledFrom([]string{"meter", "", "two\nlines"}).Draw(t, "instrument"),
			rapid.SampledFrom([]device.Measure{device.DCVoltage, device.Overshoot, "of no known kind"}).Draw(t, "measure")}
	}), 1, 5).Draw(t, "tags")
	readings := make([]TaggedReading, len(figures))
	for i := range figures {
		if rapid.Bool().Draw(t, "at one time") {
			figures[i].at = begin.UnixMicro() - int64(i%2)
		}
		tag := rapid.SampledFrom(tags).Draw(t, "tag")
		readings[i] = TaggedReading{tag, figures[i].reading(tag.Measure)}
	}
	return readings
}

// drawRecords fills a book with what is no reading.
func drawRecords(ctx context.Context, t *rapid.T, b *Book) error {
	units := map[string]bool{}
	for i := range rapid.IntRange(0, 3).Draw(t, "soaks") {
		unit := drawName(t, "unit")
		if b.AddUnit(ctx, Unit{ID: checks.UnitID(unit), Console: "Brambling 8"}) != nil && !units[unit] {
			continue // the book takes no such name
		}
		units[unit] = true
		s := aSoak()
		s.Bench, s.Unit, s.Begin = drawName(t, "bench"), checks.UnitID(unit), begin.Add(time.Duration(i)*time.Hour)
		if err := drawSoak(ctx, t, b, s); err != nil {
			return fmt.Errorf("soak %d: %w", i, err)
		}
		if err := drawTests(ctx, b, s.Unit, i); err != nil {
			return fmt.Errorf("tests %d: %w", i, err)
		}
	}
	return nil
}

// drawSoak writes a soak with excursions, some of which last, and verdicts.
func drawSoak(ctx context.Context, t *rapid.T, b *Book, s Soak) error {
	id, err := b.BeginSoak(ctx, s)
	if err != nil {
		return err
	}
	for range rapid.IntRange(0, 5).Draw(t, "excursions") {
		e := someExcursion()
		e.Check.TestPoint = checks.TestPointName(strings.ToValidUTF8(drawName(t, "point"), "?")) // a sheet's text is UTF-8
		e.State = rapid.SampledFrom([]checks.State{checks.Outside, checks.Borderline}).Draw(t, "state")
		e.From = begin.Add(time.Duration(rapid.IntRange(0, 3).Draw(t, "from")) * time.Microsecond)
		e.Limit = rapid.SampledFrom([]float64{5.25, math.Inf(1), math.NaN(), 1.0 / 3}).Draw(t, "limit")
		if rapid.Bool().Draw(t, "lasts") {
			e.To = time.Time{}
		}
		err = errors.Join(err, b.PutExcursion(ctx, id, e))
	}
	err = errors.Join(err, b.EndSoak(ctx, id, SoakEnded, begin.Add(8*time.Hour), ""))
	for range rapid.IntRange(0, 2).Draw(t, "verdicts") {
		v := checks.Verdict{Outcome: checks.Fail, SheetName: drawName(t, "sheet"), SheetHash: "3f2a", Evidence: 0.998,
			Reasons: []checks.Reason{{Kind: checks.LeftLimit, Check: someExcursion().Check, Begin: begin, Excursion: someExcursion()}}}
		err = errors.Join(err, b.PutVerdict(ctx, id, begin.Add(8*time.Hour), v))
	}
	return err
}

// drawTests writes what no export has, beside the rest: a round, and a final test.
func drawTests(ctx context.Context, b *Book, unit checks.UnitID, i int) error {
	round := aRound(fmt.Sprint("round ", i))
	round.Unit = unit
	id, err := b.BeginRound(ctx, round)
	if err != nil {
		return err
	}
	err = b.AddRoundReadings(ctx, id, RoundReading{TestPoint: "rail-5v", Reading: device.Reading{Measure: device.DCVoltage, Value: 5, At: begin}})
	final, finalErr := b.BeginFinal(ctx, Final{Bench: "quay", Place: "left", Unit: unit, Sheet: round.Sheet, Round: id, Begin: begin})
	return errors.Join(err, finalErr, b.AddStepResult(ctx, final, everyResult()), b.EndFinal(ctx, final, begin.Add(time.Hour), ""),
		b.PutFinalVerdict(ctx, final, begin.Add(time.Hour), checks.FinalVerdict{Outcome: checks.Fail, Unit: unit}))
}

// drawBook makes a book of all that a bench can put into one.
func drawBook(ctx context.Context, t *rapid.T, b *Book) error {
	if _, err := b.store(ctx, &batch{readings: drawReadings(t)}, newJournal()); err != nil {
		return err
	}
	return drawRecords(ctx, t, b)
}

// exportOf is a book as a text.
func (f format) exportOf(ctx context.Context, b *Book) (string, error) {
	var text strings.Builder
	err := f.out(b, ctx, &text, Filter{})
	return text.String(), err
}

// comesBack takes a book out and into a fresh one, which must give the same text, and
// then into both again, which must change nothing of it. (A record of the book's own
// whose names no line can carry is not known again, and kept as a line as well.)
func (f format) comesBack(ctx context.Context, b, fresh *Book) error {
	text, err := f.exportOf(ctx, b)
	if err != nil {
		return err
	}
	for i, into := range []*Book{fresh, fresh, b} {
		count, err := f.in(into, ctx, strings.NewReader(text), nil)
		if err != nil {
			return fmt.Errorf("import %d: %w", i, err)
		}
		if i > 0 && count.Readings != 0 || i == 1 && count.Others != 0 {
			return fmt.Errorf("import %d of the same adds %+v", i, count)
		}
		again, err := f.exportOf(ctx, into)
		if err != nil {
			return fmt.Errorf("export %d: %w", i, err)
		}
		if again != text {
			return fmt.Errorf("export %d is\n%s\nwant\n%s", i, again, text)
		}
	}
	return nil
}

// TestAnyBookComesBack: whatever a book has in it, an import of its export gives the
// same export byte by byte, and a second one changes nothing. So it is where the book
// has lines of other books in it already. BOOK_DRAWN=1000 tries as often.
func TestAnyBookComesBack(t *testing.T) {
	set(t, "rapid.checks", fmt.Sprint(many(t, "BOOK_DRAWN", 6)))
	ctx := context.WithoutCancel(t.Context())
	rapid.Check(t, func(rt *rapid.T) {
		first, second := openNew(t), openNew(t)
		if err := errors.Join(drawBook(ctx, rt, first), drawBook(ctx, rt, second)); err != nil {
			rt.Fatal(err)
		}
		for _, f := range formats {
			if err := f.comesBack(ctx, first, openNew(t)); err != nil {
				rt.Fatalf("%s: %v", f.name, err)
			}
			text, err := f.exportOf(ctx, second)
			if err != nil {
				rt.Fatal(err)
			}
			if _, err := f.in(first, ctx, strings.NewReader(text), nil); err != nil {
				rt.Fatal(err)
			}
			if err := f.comesBack(ctx, first, openNew(t)); err != nil {
				rt.Fatalf("%s, with another book in it: %v", f.name, err)
			}
		}
		if problems, err := first.Check(ctx, nil); err != nil || len(problems) > 0 {
			rt.Fatal(problems, err)
		}
	})
}

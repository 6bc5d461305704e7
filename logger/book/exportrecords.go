package book

import (
	"cmp"
	"context"
	"database/sql"
	"errors"
	"io"
	"math"
	"slices"
	"strings"

	"soakline/checks"
)

// recordLine is a line about an excursion or a verdict, and when it is of.
type recordLine struct {
	at         int64 // nanoseconds
	text, kind string
}

// recordPage is how many lines of records are in memory at once, but for more of one
// microsecond.
const recordPage = 2000

// exportRecords writes the excursions and verdicts that match a filter in the order of
// their times and, within one, of their texts: the order does not tell which of them
// are this book's own. Equal lines are one.
func (b *Book) exportRecords(ctx context.Context, lines *lineWriter, f Filter, count *Exported) error {
	soaks, err := b.exportedSoaks(ctx, f)
	if err != nil || f.Instrument != "" { // an excursion or a verdict is of no one instrument
		return err
	}
	within := spanOf(f.Since, f.Until)
	for after, done := max(within.from, math.MinInt64+1)-1, false; !done; {
		upTo, err := b.recordsUpTo(ctx, after)
		if err != nil {
			return err
		}
		done = upTo >= within.until-1
		upTo = min(upTo, within.until-1)
		page, err := b.recordLines(ctx, f, soaks, after, upTo)
		if err != nil {
			return err
		}
		if err := lines.records(page); err != nil {
			return err
		}
		for _, l := range page {
			if l.kind == excursionLine {
				count.Excursions++
			} else {
				count.Verdicts++
			}
		}
		after = upTo
	}
	return nil
}

// exportedSoaks gives the soaks that a filter can match, with their tags.
func (b *Book) exportedSoaks(ctx context.Context, f Filter) (map[SoakID]Tag, error) {
	var all []Soak
	var err error
	if f.Soak != 0 {
		all = make([]Soak, 1)
		all[0], err = b.Soak(ctx, f.Soak)
	} else {
		all, err = b.Soaks(ctx, f.Unit)
	}
	some := make(map[SoakID]Tag, len(all))
	for _, s := range all {
		if (f.Bench == "" || f.Bench == s.Bench) && (f.Console == "" || f.Console == s.Console) && (f.Unit == "" || f.Unit == s.Unit) {
			some[s.ID] = Tag{Bench: s.Bench, Console: s.Console, Unit: s.Unit}
		}
	}
	return some, err
}

// recordsUpTo says up to which microsecond there are recordPage records after another.
func (b *Book) recordsUpTo(ctx context.Context, after int64) (int64, error) {
	const query = `SELECT count(*), max(at) FROM (SELECT from_us AS at FROM excursion WHERE from_us > ?1
		UNION ALL SELECT at_us FROM verdict WHERE at_us > ?1
		UNION ALL SELECT at_us FROM final_verdict WHERE at_us > ?1
		UNION ALL SELECT at_ns / 1000 FROM other_line WHERE at_ns > ?2 ORDER BY at LIMIT ?3)`
	var n int64
	var upTo sql.NullInt64
	err := b.queryOne(ctx, query, []any{after, nanoseconds(after), recordPage}, []any{&n, &upTo})
	if n < recordPage {
		return math.MaxInt64, err
	}
	return upTo.Int64, err
}

// recordLines gives the lines of a page in their order.
func (b *Book) recordLines(ctx context.Context, f Filter, soaks map[SoakID]Tag, after, upTo int64) ([]recordLine, error) {
	all, err := b.otherLines(ctx, f, after, upTo)
	if err != nil {
		return nil, err
	}
	excursions, err := collect(ctx, b, "list excursions", selectExcursion+` WHERE from_us > ? AND from_us <= ?`, []any{after, upTo}, scanExcursion)
	if err != nil {
		return nil, err
	}
	for _, e := range excursions {
		if tag, ok := soaks[e.Soak]; ok && f.matches(e.Check) {
			text, err := oneLine(func(w *lineWriter) error { return w.excursion(tag, e.Excursion) })
			if err != nil {
				return nil, err
			}
			all = append(all, recordLine{e.From.UnixNano(), text, excursionLine})
		}
	}
	verdicts, err := collect(ctx, b, "list verdicts", selectVerdict+` WHERE at_us > ? AND at_us <= ?`, []any{after, upTo}, scanVerdict)
	if err != nil {
		return nil, err
	}
	for _, v := range verdicts {
		if tag, ok := soaks[v.Soak]; ok && f.TestPoint == "" && f.Measure == "" {
			text, err := oneLine(func(w *lineWriter) error { return w.verdict(tag, v) })
			if err != nil {
				return nil, err
			}
			all = append(all, recordLine{v.At.UnixNano(), text, verdictLine})
		}
	}
	finals, err := b.finalLines(ctx, f, after, upTo)
	if err != nil {
		return nil, err
	}
	all = append(all, finals...)
	slices.SortFunc(all, func(a, b recordLine) int { return cmp.Or(cmp.Compare(a.at, b.at), cmp.Compare(a.text, b.text)) })
	return slices.Compact(all), nil
}

// oneLine is the text of a line.
func oneLine(write func(*lineWriter) error) (string, error) {
	var text strings.Builder
	lines := newLineWriter(&text)
	err := errors.Join(write(lines), lines.flush())
	return text.String(), err
}

// records writes lines that are text already.
func (w *lineWriter) records(page []recordLine) error {
	if err := w.flush(); err != nil {
		return err
	}
	var text strings.Builder
	for _, l := range page {
		text.WriteString(l.text)
	}
	_, err := io.WriteString(w.to, text.String())
	return err
}

func (f Filter) matches(check checks.CheckKey) bool {
	return (f.TestPoint == "" || f.TestPoint == check.TestPoint) && (f.Measure == "" || f.Measure == check.Measure)
}

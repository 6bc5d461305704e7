package book

import (
	"context"
	"fmt"
	"io"
	"math"
	"strings"
	"time"

	"github.com/influxdata/line-protocol/v2/lineprotocol"

	"soakline/checks"
)

// Exported counts what an export wrote.
type Exported struct{ Readings, Excursions, Verdicts int64 }

// ExportLines writes what matches a filter in line protocol: the readings in time
// order, then the excursions and verdicts in theirs, those that came from other books
// among them; equal books give equal bytes. Timestamps are in nanoseconds; of several readings of a series in one microsecond the later ones
// are moved on by 1 ns each, because a store would keep only one of them. A tag
// that is empty is left out; a character that the protocol cannot carry is replaced
// by a visible one.
func (b *Book) ExportLines(ctx context.Context, w io.Writer, filter Filter) (Exported, error) {
	var count Exported
	lines := newLineWriter(w)
	for r, err := range b.Readings(ctx, filter) {
		if err != nil {
			return count, err
		}
		if err := lines.reading(r); err != nil {
			return count, b.fail("export", err)
		}
		count.Readings++
	}
	if err := b.exportRecords(ctx, lines, filter, &count); err != nil {
		return count, b.fail("export", err)
	}
	return count, b.fail("export", lines.flush())
}

// lineWriter encodes lines into a buffer and hands it on when it is full.
type lineWriter struct {
	to      io.Writer
	encoder lineprotocol.Encoder
	tags    map[Tag]Tag // with visible names, made once per series
	stamps  map[Tag]stamp
}

// stamp is the last timestamp of a visible name and how many readings had it.
type stamp struct {
	at    time.Time
	times int
}

// lineBuffer is how many bytes are gathered before they are written.
const lineBuffer = 64 << 10

func newLineWriter(to io.Writer) *lineWriter {
	w := &lineWriter{to: to, tags: make(map[Tag]Tag), stamps: make(map[Tag]stamp)}
	w.encoder.SetLax(true) // names are made fit once per series, not once per line
	return w
}

func (w *lineWriter) reading(r TaggedReading) error {
	tag := w.visible(r.Tag)
	last := w.stamps[tag]
	if last.at.Equal(r.At) {
		last.times++
	} else {
		last = stamp{at: r.At}
	}
	w.stamps[tag] = last
	return w.stamped(r.Tag, r.Value, r.At, int64(last.times))
}

// stamped writes a reading that so many of its series and microsecond came before.
func (w *lineWriter) stamped(tag Tag, value float64, at time.Time, before int64) error {
	w.start("reading", tag)
	w.float(fieldName(tag.Measure.Unit().Plural), value)
	return w.end(at.Add(time.Duration(before)))
}

// fieldName is the unit in the plural; "value" for a measure of an unknown unit.
func fieldName(plural string) string {
	if plural == "" {
		return "value"
	}
	return plural
}

func (w *lineWriter) excursion(tag Tag, e checks.Excursion) error {
	tag.TestPoint, tag.Measure = e.Check.TestPoint, e.Check.Measure
	unit := fieldName(e.Check.Measure.Unit().Plural)
	w.start("excursion", tag)
	w.text("edge", string(e.Edge))
	w.float("limit_"+unit, e.Limit)
	if !e.To.IsZero() {
		w.float("seconds", e.To.Sub(e.From).Seconds())
	}
	w.text("state", string(e.State))
	w.float(unit, e.Worst)
	return w.end(e.From)
}

func (w *lineWriter) verdict(tag Tag, v SoakVerdict) error {
	w.start("verdict", tag)
	w.float("evidence_ratio", v.Evidence)
	w.text("outcome", string(v.Outcome))
	w.text("reasons", strings.Join(v.Sentences(time.UTC), "\n"))
	w.text("sheet", v.SheetName)
	w.text("sheet_hash", v.SheetHash)
	w.encoder.AddField("soak", lineprotocol.IntValue(int64(v.Soak)))
	return w.end(v.At)
}

// visible is a tag with visible names.
func (w *lineWriter) visible(t Tag) Tag {
	named, ok := w.tags[t]
	if !ok {
		named = t.visible()
		w.tags[t] = named
	}
	return named
}

// start begins a line with its tags in the order of their names.
func (w *lineWriter) start(measurement string, t Tag) {
	named := w.visible(t)
	w.encoder.StartLine(measurement)
	for _, tag := range [...]struct{ name, value string }{
		{"bench", named.Bench}, {"console", string(named.Console)}, {"instrument", named.Instrument},
		{"measure", string(named.Measure)}, {"test_point", string(named.TestPoint)}, {"unit", string(named.Unit)},
	} {
		if tag.value != "" {
			w.encoder.AddTag(tag.name, tag.value)
		}
	}
}

// float adds a field; what is not finite has no form in the protocol and is left
// out.
func (w *lineWriter) float(name string, value float64) {
	if math.IsNaN(value) || math.IsInf(value, 0) {
		return
	}
	v, _ := lineprotocol.FloatValue(value) // false only for what was just left out
	w.encoder.AddField(name, v)
}

func (w *lineWriter) text(name, value string) {
	v, ok := lineprotocol.StringValue(strings.ToValidUTF8(value, "�"))
	if ok {
		w.encoder.AddField(name, v)
	}
}

func (w *lineWriter) end(at time.Time) error {
	w.encoder.EndLine(at)
	if err := w.encoder.Err(); err != nil {
		return fmt.Errorf("line protocol: %w", err)
	}
	if len(w.encoder.Bytes()) < lineBuffer {
		return nil
	}
	return w.flush()
}

func (w *lineWriter) flush() error {
	_, err := w.to.Write(w.encoder.Bytes())
	w.encoder.Reset()
	return err
}

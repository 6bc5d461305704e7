package main

import (
	"bytes"
	"context"
	"fmt"
	"math"
	"math/rand/v2"
	"testing"
	"time"

	"soakline/checks"
	"soakline/device"
	"soakline/device/scpi"
	"soakline/logger/book"
)

// A day's soak in full: 16 test points, 10 readings/s each, 13.8 million in all.
const (
	dayPoints    = 16
	dayPerSecond = 10
	dayReadings  = dayPoints * dayPerSecond * 24 * 60 * 60
)

// dayBegin is when it begins: the excursion is at 03:12, the gap at 14:00.
var (
	dayBegin  = time.Date(2026, 3, 14, 0, 0, 0, 0, time.UTC)
	dayLeft   = dayBegin.Add(3*time.Hour + 12*time.Minute)
	dayBack   = dayLeft.Add(3 * time.Minute)
	dayGap    = dayBegin.Add(14 * time.Hour)
	dayGapEnd = dayGap.Add(20 * time.Minute)
)

// daySheet is the sheet of the day: 16 rails that are alike.
func daySheet() []byte {
	var b bytes.Buffer
	b.WriteString("name: day\nconsole: Brambling 8\nsoak: {duration: 24h, evidence_at_least_pct: 95, longest_gap: 1h}\ntest_points:\n")
	for i := range dayPoints {
		fmt.Fprintf(&b, "  - {name: tp-%c, measure: dc-voltage, every: 100ms, limit: {nominal_v: 5, low_v: 4.75, high_v: 5.25, source: \"common practice, no source\"}}\n", 'a'+i)
	}
	return b.Bytes()
}

func dayPoint(i int) checks.TestPointName { return checks.TestPointName(fmt.Sprintf("tp-%c", 'a'+i)) }

// writeDay writes the day into a book: it was stopped at its end, so that nothing is
// judged anew.
func writeDay(t testing.TB, path string) {
	t.Helper()
	b, err := book.Open(t.Context(), path, book.Options{})
	if err != nil {
		t.Fatal(err)
	}
	defer func() {
		if err := b.Close(); err != nil {
			t.Error(err)
		}
	}()
	if err := b.AddUnit(t.Context(), book.Unit{ID: "B8-0147", Console: "Brambling 8"}); err != nil {
		t.Fatal(err)
	}
	text := daySheet()
	end := dayBegin.Add(24 * time.Hour)
	id, err := b.BeginSoak(t.Context(), book.Soak{Bench: "pier-end", Place: "left", Unit: "B8-0147", Console: "Brambling 8", Begin: dayBegin, Planned: 24 * time.Hour,
		Sheet: book.SheetCopy{Name: "day", Text: text, Hash: book.HashSheet(text)}})
	if err != nil {
		t.Fatal(err)
	}
	writeDayReadings(t, b)
	key := checks.CheckKey{TestPoint: dayPoint(0), Measure: device.DCVoltage}
	ran := func(err error) {
		t.Helper()
		if err != nil {
			t.Fatal(err)
		}
	}
	ran(b.PutExcursion(t.Context(), id, checks.Excursion{Check: key, State: checks.Outside, Edge: checks.LowEdge, From: dayLeft, To: dayBack, Worst: 4.6,
		WorstAt: dayLeft.Add(time.Minute), WorstU: 0.001, Limit: 4.75}))
	ran(b.PutGap(t.Context(), id, checks.Gap{Check: key, From: dayGap, To: dayGapEnd, Cause: "meter silent"}))
	ran(b.EndSoak(t.Context(), id, book.SoakEnded, end, ""))
	ran(b.PutVerdict(t.Context(), id, end, checks.Verdict{Outcome: checks.Fail, SheetName: "day", SheetHash: book.HashSheet(text), Unit: "B8-0147", Begin: dayBegin,
		End: end, Planned: 24 * time.Hour, Evidence: 0.986}))
}

// writeDayReadings streams the readings through the book's own writer.
func writeDayReadings(t testing.TB, b *book.Book) {
	t.Helper()
	writer := book.NewWriter(b, book.WriterOptions{Bound: 1 << 20, CommitEvery: time.Hour, TimeStep: time.Millisecond})
	ctx, stop := context.WithCancel(t.Context())
	ended := make(chan error, 1)
	go func() { ended <- writer.Run(ctx) }()
	random := rand.New(rand.NewPCG(7, 7))
	tags := make([]book.Tag, dayPoints)
	for i := range tags {
		tags[i] = book.Tag{Bench: "pier-end", Console: "Brambling 8", Unit: "B8-0147", TestPoint: dayPoint(i), Instrument: "meter", Measure: device.DCVoltage}
	}
	for n := range dayReadings {
		at := dayBegin.Add(time.Duration(n/dayPoints) * time.Second / dayPerSecond)
		i := n % dayPoints
		if i == 0 && !at.Before(dayGap) && at.Before(dayGapEnd) {
			continue
		}
		level := int64(50121) + random.Int64N(7) + int64(40*math.Sin(float64(n)/3e6+float64(i)))
		if i == 0 && !at.Before(dayLeft) && at.Before(dayBack) {
			level = 46000
		}
		d := scpi.NewDecimal(level, -4)
		if err := writer.Append(book.TaggedReading{Tag: tags[i], Reading: device.Reading{Measure: device.DCVoltage, Value: d.Float64(), Digits: d, At: at, StandardUncertainty: 0.001}}); err != nil {
			t.Fatal(err)
		}
		if n%200_000 == 0 {
			if err := writer.Flush(t.Context()); err != nil {
				t.Fatal(err)
			}
		}
	}
	if err := writer.Flush(t.Context()); err != nil {
		t.Fatal(err)
	}
	stop()
	if err := <-ended; err != nil {
		t.Fatal(err)
	}
}

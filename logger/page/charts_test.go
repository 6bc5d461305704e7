package page_test

import (
	"encoding/json"
	"fmt"
	"io"
	"net/http"
	"testing"
	"time"

	"soakline/checks"
	"soakline/device"
	"soakline/logger/book"
	"soakline/logger/page"
)

// ask gets a path of the bench and decodes what it answers.
func (l *live) ask(t testing.TB, path string, into any) int {
	t.Helper()
	response, err := http.Get(l.base + path)
	if err != nil {
		t.Fatal(err)
	}
	defer response.Body.Close()
	text, err := io.ReadAll(response.Body)
	if err != nil {
		t.Fatal(err)
	}
	if err := json.Unmarshal(text, into); err != nil {
		t.Fatalf("%s: %v in %s", path, err, text)
	}
	return response.StatusCode
}

// hour is when the soak of oldSoak began.
var hour = time.Date(2026, 5, 1, 22, 0, 0, 0, time.UTC)

// oldSoak puts a soak of an hour into the book, read every second but for the
// minutes 20 to 29, at 5 V and a millivolt more each minute, with one excursion.
func oldSoak(t testing.TB, b *book.Book) {
	t.Helper()
	ctx := t.Context()
	id, err := b.BeginSoak(ctx, book.Soak{Bench: "pier-end", Place: "left", Unit: "B8-0147", Begin: hour, Planned: time.Hour,
		Sheet: book.SheetCopy{Name: "rails", Text: []byte(sheetText), Hash: railSheet().Hash}})
	if err != nil {
		t.Fatal(err)
	}
	writer := book.NewWriter(b, book.WriterOptions{})
	ended := background(ctx, writer.Run)
	tag := book.Tag{Bench: "pier-end", Console: "Brambling 8", Unit: "B8-0147", TestPoint: "rail-5v", Instrument: "meter", Measure: device.DCVoltage}
	for s := range 3600 {
		if minute := s / 60; minute < 20 || minute > 29 {
			r := device.Reading{Measure: device.DCVoltage, Value: 5 + float64(minute)/1000, At: hour.Add(time.Duration(s) * time.Second), StandardUncertainty: 0.001}
			if err := writer.Append(book.TaggedReading{Tag: tag, Reading: r}); err != nil {
				t.Fatal(err)
			}
		}
	}
	key := checks.CheckKey{TestPoint: "rail-5v", Measure: device.DCVoltage}
	for _, err := range []error{writer.Flush(ctx), ended(),
		b.PutGap(ctx, id, checks.Gap{Check: key, From: hour.Add(20 * time.Minute), To: hour.Add(30 * time.Minute), Cause: "silent"}),
		b.PutExcursion(ctx, id, checks.Excursion{Check: key, State: checks.Outside, Edge: checks.HighEdge, From: hour.Add(50 * time.Minute),
			To: hour.Add(51 * time.Minute), Worst: 5.05, WorstAt: hour.Add(50 * time.Minute), Limit: 5.25}),
		b.EndSoak(ctx, id, book.SoakEnded, hour.Add(time.Hour), ""),
		b.PutVerdict(ctx, id, hour.Add(time.Hour), checks.Verdict{Unit: "B8-0147", Outcome: checks.Fail, Begin: hour, End: hour.Add(time.Hour), Planned: time.Hour})} {
		if err != nil {
			t.Fatal(err)
		}
	}
}

func TestChartOfASoak(t *testing.T) {
	t.Parallel()
	l := startLive(t, oldSoak)
	var chart page.ChartView
	if status := l.ask(t, "/api/v1/charts?soak=1&buckets=60", &chart); status != http.StatusOK || len(chart.Series) != 1 {
		t.Fatalf("%d, %+v", status, chart)
	}
	s := chart.Series[0]
	if s.Kind != page.EnvelopeKind || s.Readings != 3000 || len(s.AtS) != 60 || len(s.Low) != 60 || s.Unit != "V" || s.Of != "B8-0147" {
		t.Errorf("%+v", s)
	}
	if s.Count[10] != 60 || s.Low[10] != 5.01 || s.High[10] != 5.01 || s.Mean[10] != 5.01 || s.AtS[10] != 630 {
		t.Errorf("minute 10: %d readings, %g to %g, mean %g, at %g s", s.Count[10], s.Low[10], s.High[10], s.Mean[10], s.AtS[10])
	}
	if s.Count[25] != 0 {
		t.Errorf("minute 25 is a gap and has %d readings", s.Count[25])
	}
	if len(s.Gaps) != 1 || !s.Gaps[0].From.Equal(hour.Add(20*time.Minute)) || len(s.Excursions) != 1 || s.Excursions[0].Worst != 5.05 {
		t.Errorf("gaps %v, excursions %v", s.Gaps, s.Excursions)
	}
	if s.Limit == nil || *s.Limit.Low != 4.75 || *s.Limit.AcceptLow != 4.8 || *s.Limit.AcceptHigh != 5.2 {
		t.Errorf("limit %+v", s.Limit)
	}
}

// TestChartZoomedIn: where there are few readings every one is shown as it was
// read.
func TestChartZoomedIn(t *testing.T) {
	t.Parallel()
	l := startLive(t, oldSoak)
	from := float64(hour.Unix()) + 19.5*60
	var chart page.ChartView
	l.ask(t, fmt.Sprintf("/api/v1/charts?soak=1&from_s=%f&until_s=%f", from, from+60), &chart)
	if len(chart.Series) != 1 {
		t.Fatalf("%+v", chart)
	}
	s := chart.Series[0]
	if s.Kind != page.ReadingsKind || len(s.Value) != 30 || s.AtS[0] != 0 || s.AtS[29] != 29 || s.Value[0] != 5.019 {
		t.Errorf("%+v", s)
	}
	if len(s.Excursions) != 0 || len(s.Gaps) != 1 {
		t.Errorf("excursions %v, gaps %v", s.Excursions, s.Gaps)
	}
}

package logger

import (
	"context"
	"math"
	"path/filepath"
	"slices"
	"strconv"
	"strings"
	"testing"
	"time"

	"soakline/checks"
	"soakline/checks/drift"
	"soakline/device"
	"soakline/device/scpi"
	"soakline/logger/book"
)

// The months of the fixture's history, and its figures, all of them invented: a
// capacitor of 2200 uF that loses 1 % a month and gains 0.3 % a degree, an ESR of
// 0.1 ohm, a rail that rises by 2 mV a month, and a case that is warm in summer.
const (
	lossAMonth, gainADegree = 0.01, 0.003
	railAMonth              = 0.002
)

var historyBegin = time.Date(2025, 1, 10, 9, 0, 0, 0, time.UTC)

func monthsLater(m float64) time.Time {
	return historyBegin.Add(time.Duration(m * float64(drift.Month)))
}

func caseCelsius(m float64) float64 { return 30 + 5*math.Sin(m*math.Pi/6) }

func farads(m float64) float64 {
	return 2200e-6 * (1 - lossAMonth*m) * math.Exp(gainADegree*(caseCelsius(m)-25))
}

// historySheet follows a reservoir with a thermometer beside it.
func historySheet() checks.Sheet {
	sheet := testSheet()
	point := func(name checks.TestPointName, m device.Measure, low, high float64) checks.TestPoint {
		check := sheet.TestPoints[0].Checks[0]
		check.Measure, check.Limit.Low, check.Limit.High = m, low, high
		return checks.TestPoint{Name: name, Checks: []checks.Check{check}}
	}
	reservoir := point("reservoir", device.DCVoltage, 7, 16)
	reservoir.Wear = &checks.WearPlan{Source: "common practice, no source", Thermometer: "case", ReferenceCelsius: 25,
		Capacitance: &checks.WearLimit{OfFirst: 0.8, PerCelsius: gainADegree},
		ESR:         &checks.WearLimit{At: "bridge", Limit: 0.25, OfFirst: 5, PerCelsius: math.NaN()}}
	sheet.TestPoints = append(sheet.TestPoints, reservoir, point("bridge", device.SeriesResistance, 0, 0.5), point("case", device.Temperature, math.Inf(-1), 60))
	sheet.TestPoints = append(sheet.TestPoints, point("shield", device.DCVoltage, -0.1, 0.1))
	sheet.TestPoints[4].Checks[0].Against = checks.Reference{TestPoint: "rail-5v"}
	return sheet
}

// historyBook is a book of twelve months: in even ones a round and a discharge, in
// odd ones a soak.
func historyBook(t *testing.T) *book.Book {
	t.Helper()
	b, err := book.Open(t.Context(), filepath.Join(t.TempDir(), "pier.book"), book.Options{})
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() {
		if err := b.Close(); err != nil {
			t.Error(err)
		}
	})
	must(t, b.AddUnit(t.Context(), book.Unit{ID: "B8-0147", Console: "Brambling 8"}))
	ctx, stop := context.WithCancel(context.WithoutCancel(t.Context()))
	writer, ended := book.NewWriter(b, book.WriterOptions{}), make(chan error, 1)
	go func() { ended <- writer.Run(ctx) }()
	put := func(at time.Time, point checks.TestPointName, m device.Measure, value float64) {
		tag := book.Tag{Bench: "pier", Console: "Brambling 8", Unit: "B8-0147", TestPoint: point, Instrument: "meter", Measure: m}
		r := device.Reading{Measure: m, Value: value, At: at}
		if at.Minute() != 7 { // an instrument's; what is computed, as by a discharge, has no digits
			digits, err := scpi.ParseDecimal(strconv.FormatFloat(value, 'f', 9, 64))
			must(t, err)
			r.Digits, r.Value = digits, digits.Float64()
		}
		must(t, writer.Append(book.TaggedReading{Tag: tag, Reading: r}))
	}
	for m := range 12 {
		if m%2 == 0 {
			keepHistoryRound(t, b, m)
			put(monthsLater(float64(m)).Truncate(time.Hour).Add(7*time.Minute), "reservoir", device.Capacitance, farads(float64(m)))
		} else {
			keepHistorySoak(t, b, m, put)
		}
	}
	stop()
	if err := <-ended; err != nil {
		t.Fatal(err)
	}
	return b
}

func must(t *testing.T, err error) {
	t.Helper()
	if err != nil {
		t.Fatal(err)
	}
}

func keepHistoryRound(t *testing.T, b *book.Book, m int) {
	at := monthsLater(float64(m)).Truncate(time.Hour)
	id, err := b.BeginRound(t.Context(), book.Round{Bench: "pier", Unit: "B8-0147", Label: at.Format("January"), Begin: at, Sheet: book.SheetCopy{Name: "fixture", Text: sheetText, Hash: book.HashSheet(sheetText)}})
	must(t, err)
	reading := func(point checks.TestPointName, m device.Measure, value, u float64) book.RoundReading {
		return book.RoundReading{TestPoint: point, Instrument: "meter", Averaged: 3, Reading: device.Reading{Measure: m, Value: value, At: at, StandardUncertainty: u}}
	}
	must(t, b.AddRoundReadings(t.Context(), id, reading("rail-5v", device.DCVoltage, 5+railAMonth*float64(m), 0.001),
		reading("shield", device.DCVoltage, 5.01+railAMonth*float64(m), 0.001), reading("case", device.Temperature, caseCelsius(float64(m)), 0.5),
		reading("bridge", device.SeriesResistance, 0.1, 0.001)))
	must(t, b.EndRound(t.Context(), id, at.Add(time.Minute)))
}

func keepHistorySoak(t *testing.T, b *book.Book, m int, put func(time.Time, checks.TestPointName, device.Measure, float64)) {
	at := monthsLater(float64(m)).Add(-time.Hour).Truncate(time.Minute)
	id, err := b.BeginSoak(t.Context(), book.Soak{Bench: "pier", Place: "left", Unit: "B8-0147", Planned: 2 * time.Hour, Begin: at, Sheet: book.SheetCopy{Name: "fixture", Text: sheetText, Hash: book.HashSheet(sheetText)}})
	must(t, err)
	for i := range 120 {
		now := at.Truncate(time.Minute).Add(time.Duration(i)*time.Minute + time.Second)
		if now.Minute() == 7 {
			continue
		}
		put(now, "rail-5v", device.DCVoltage, 5+railAMonth*float64(m)+0.001*float64(i%2)-0.0005)
		put(now, "shield", device.DCVoltage, 5.01+railAMonth*float64(m))
		put(now, "case", device.Temperature, caseCelsius(float64(m)))
		put(now, "reservoir", device.Capacitance, farads(float64(m)))
	}
	must(t, b.EndSoak(t.Context(), id, book.SoakEnded, at.Add(2*time.Hour), ""))
}

func courseOf(t *testing.T, h History, point checks.TestPointName, m device.Measure) HistoryCourse {
	t.Helper()
	for _, c := range h.Courses {
		if c.Check == (checks.CheckKey{TestPoint: point, Measure: m}) {
			return c
		}
	}
	t.Fatalf("no course of %s %s among %d", point, m, len(h.Courses))
	return HistoryCourse{}
}

// Twelve months of rounds, soaks and discharges give each figure its course, the
// capacitor its end of life at the reference temperature, and the rest no trend.
func TestHistoryOfTwelveMonths(t *testing.T) {
	b := historyBook(t)
	h, err := HistoryFromBook(t.Context(), b, "B8-0147", HistoryOptions{Sheet: historySheet()})
	must(t, err)
	within := func(what string, got, want, share float64) {
		t.Helper()
		if !(math.Abs(got/want-1) <= share) {
			t.Errorf("%s is %v, want %v", what, got, want)
		}
	}
	level := courseOf(t, h, "rail-5v", device.DCVoltage)
	if len(level.Figures) != 12 || level.Figures[0].Kind != OfRound || level.Figures[0].Label != "January" || level.Figures[1].Kind != OfSoak || !level.Asked {
		t.Errorf("%+v", level)
	}
	within("the rail's slope", level.Trend.PerMonth, railAMonth, 0.01)
	within("months to its limit", level.Trend.ReachedAt.Sub(historyBegin).Hours()/drift.Month.Hours(), 0.25/railAMonth, 0.02)
	within("the soak's mean", level.Figures[1].Value, 5+railAMonth, 1e-5)
	within("its highest", level.Figures[1].High, 5+railAMonth+0.0005, 1e-6)
	if f := level.Figures[1]; f.Readings != 118 || f.Soak != 1 || !math.IsNaN(f.U) || level.Figures[0].U != 0.001 {
		t.Errorf("soak %+v, round %+v", f, level.Figures[0])
	}
	if text := level.Text(); !strings.HasPrefix(text, "rises 2 mV a month [2 mV, ") || !strings.Contains(text, "meets 5.25 V on 2035-") {
		t.Errorf("text %q", text)
	}
	difference := courseOf(t, h, "shield", device.DCVoltage)
	for _, f := range difference.Figures {
		within("the shield less the rail", f.Value, 0.01, 0.001)
	}
	capacitance := courseOf(t, h, "reservoir", device.Capacitance)
	if len(capacitance.Figures) != 12 || capacitance.Figures[0].Kind != OfDischarge || capacitance.Asked || capacitance.Figures[1].Readings != 118 {
		t.Errorf("%+v", capacitance)
	}
	if len(h.Wear) != 1 {
		t.Fatalf("%d capacitors", len(h.Wear))
	}
	wear := h.Wear[0]
	within("first, at 25 degrees", wear.Capacitance.First, 2200e-6, 1e-4)
	within("limit of the first", wear.Limits.LowFarads, 0.8*2200e-6, 1e-4)
	within("loss a month", wear.Capacitance.PerMonth, -22e-6, 0.01)
	within("months to the end", wear.Capacitance.ReachedAt.Sub(historyBegin).Hours()/drift.Month.Hours(), 20, 0.01)
	within("ESR's limit", wear.Limits.HighESROhms, 0.25, 0)
	if wear.ESR.N != 6 || wear.ESR.Outlook != drift.NoTrend || wear.Leakage.N != 0 || math.IsNaN(wear.Capacitance.Points[3].Celsius) {
		t.Errorf("%+v", wear.ESR)
	}
	if order := slices.IndexFunc(h.Courses, func(c HistoryCourse) bool { return c.Check.Measure == device.Capacitance }); order != len(h.Courses)-1 {
		t.Errorf("what the sheet does not ask stands before what it does: %+v", h.Courses)
	}
}

// What is left out, what is too few, and a unit that is not there.
func TestHistoryInPart(t *testing.T) {
	b := historyBook(t)
	o := HistoryOptions{Parse: func(string, []byte) (checks.Sheet, error) { return historySheet(), nil }, TestPoint: "reservoir", Since: monthsLater(8.5)}
	h, err := HistoryFromBook(t.Context(), b, "B8-0147", o)
	must(t, err)
	if len(h.Courses) != 1 || len(h.Courses[0].Figures) != 3 || len(h.Wear) != 1 || h.Sheet.Name != "fixture" {
		t.Fatalf("%+v", h)
	}
	if got := h.Courses[0].Text(); got != "too few figures for a trend (3 of 4)" {
		t.Errorf("%q", got)
	}
	if w := h.Wear[0]; w.Capacitance.Outlook != drift.NotKnown || !math.IsNaN(w.Capacitance.PerMonth) {
		t.Errorf("%+v", w.Capacitance)
	}
	if _, err := HistoryFromBook(t.Context(), b, "B8-0148", o); err == nil || !strings.Contains(err.Error(), "B8-0148") {
		t.Errorf("a unit that is not there: %v", err)
	}
	must(t, b.AddUnit(t.Context(), book.Unit{ID: "B8-0149", Console: "Brambling 8"}))
	if h, err := HistoryFromBook(t.Context(), b, "B8-0149", o); err != nil || len(h.Courses) != 0 {
		t.Errorf("a unit without history: %+v, %v", h, err)
	}
}

// Without a thermometer in the plan the season stays in the figures, and they are
// compared as they are.
func TestHistoryWithoutTemperature(t *testing.T) {
	sheet := historySheet()
	sheet.TestPoints[1].Wear.Thermometer = ""
	h, err := HistoryFromBook(t.Context(), historyBook(t), "B8-0147", HistoryOptions{Sheet: sheet})
	must(t, err)
	if got := h.Wear[0].Capacitance; !math.IsNaN(got.PerCelsius) || math.Abs(got.First/farads(0)-1) > 1e-3 {
		t.Errorf("%+v", got)
	}
}

package report

import (
	"context"
	"fmt"
	"math"
	"math/rand/v2"
	"path/filepath"
	"testing"
	"time"

	"soakline/checks"
	"soakline/device"
	"soakline/device/scpi"
	"soakline/logger"
	"soakline/logger/book"
)

// certUnit is the unit of the certificates' tests.
const certUnit checks.UnitID = "B8-0147"

func must(t testing.TB, err error) {
	t.Helper()
	if err != nil {
		t.Fatal(err)
	}
}

// benchSheet is a sheet like the one of the Brambling 8, and its text.
func benchSheet() (checks.Sheet, []byte) {
	text := []byte("the sheet of the tests\n")
	check := func(m device.Measure, low, nominal, high float64) checks.Check {
		return checks.Check{Measure: m, Every: 10 * time.Second, FreshFor: time.Minute, Hold: 20 * time.Second, Settle: time.Minute,
			Limit: checks.Limit{Low: low, Nominal: nominal, High: high, Source: "common practice, no source", Guard: checks.GuardBand{Rule: checks.GuardBanded, Ratio: 1}}}
	}
	none, inf := math.NaN(), math.Inf(1)
	return checks.Sheet{
		Name: "brambling-8", Console: "Brambling 8", VideoSystem: "625/50", Hash: book.HashSheet(text),
		TestPoints: []checks.TestPoint{
			{Name: "rail-5v", About: "5 V logic supply", Checks: []checks.Check{check(device.DCVoltage, 4.75, 5, 5.25)}},
			{Name: "reservoir-ripple", Caution: "Stored charge: unplugged is not discharged, and the voltage can come back by itself.",
				Checks: []checks.Check{check(device.Ripple, -inf, none, 1)}},
			{Name: "composite", About: "composite video output", Checks: []checks.Check{
				check(device.LumaPeakToPeak, 0.95, 1, 1.05), check(device.Overshoot, -inf, none, 0.04), check(device.Noise, -inf, none, 0.01)}},
			{Name: "audio-left", Checks: []checks.Check{check(device.ACVoltage, 0.1, 0.316, 1)}},
		},
		Soak: checks.SoakPlan{Duration: 4 * time.Hour, EvidenceAtLeast: 0.98, LongestGap: 5 * time.Minute},
	}, text
}

// parseBenchSheet is what config does for the bench.
func parseBenchSheet(string, []byte) (checks.Sheet, error) {
	sheet, _ := benchSheet()
	return sheet, nil
}

// story is what happens to the unit on its soak.
type story struct {
	sags, gap bool
	console   checks.ConsoleName
	unit      checks.UnitID
}

// soakedBook is a book with a unit, two rounds, a soak with readings, and the
// verdict that these readings give.
func soakedBook(t testing.TB, s story) (*book.Book, book.SoakID) {
	t.Helper()
	if s.unit == "" {
		s.unit, s.console = certUnit, "Brambling 8"
	}
	ctx := context.WithoutCancel(t.Context())
	b := emptyBook(t)
	must(t, b.AddUnit(ctx, book.Unit{ID: s.unit, Console: s.console, Notes: []book.Note{{Text: "picture dim, bends at the top; sat in a shed"}}}))
	sheet, text := benchSheet()
	kept := book.SheetCopy{Name: sheet.Name, Text: text}
	addRounds(t, b, s.unit, kept)
	id, err := b.BeginSoak(ctx, book.Soak{Bench: "quay", Place: "left", Unit: s.unit, Sheet: kept, Planned: 4 * time.Hour, Begin: soakBegin,
		Instruments: []book.SoakInstrument{{Name: "meter", Port: "/dev/ttyUSB0", Identity: "Saltmarsh,M6,100234,1.04", Since: soakBegin},
			{Name: "scope", Port: "usb:1209:0001:55", Identity: "Saltmarsh,S2,7,2.1", Since: soakBegin}}})
	must(t, err)
	addReadings(t, b, sheet, s)
	_, err = b.AddCapture(ctx, book.KeptCapture{Soak: id, TestPoint: "composite", Instrument: "scope", Kind: book.CaptureBegin}, scopeRecord(0.99, 3, soakBegin))
	must(t, err)
	_, err = b.AddCapture(ctx, book.KeptCapture{Soak: id, TestPoint: "composite", Instrument: "scope", Kind: book.CaptureEnd}, scopeRecord(0.985, 4, soakBegin.Add(4*time.Hour)))
	must(t, err)
	must(t, b.EndSoak(ctx, id, book.SoakEnded, soakBegin.Add(4*time.Hour), ""))
	verdict, err := logger.JudgeFromBook(ctx, b, id, sheet)
	must(t, err)
	must(t, logger.KeepVerdict(ctx, b, id, soakBegin.Add(4*time.Hour+time.Second), verdict))
	return b, id
}

func emptyBook(t testing.TB) *book.Book {
	t.Helper()
	b, err := book.Open(t.Context(), filepath.Join(t.TempDir(), "bench.book"), book.Options{Now: func() time.Time { return soakBegin }})
	must(t, err)
	t.Cleanup(func() { must(t, b.Close()) })
	return b
}

// addRounds takes a round as received and one after a repair.
func addRounds(t testing.TB, b *book.Book, unit checks.UnitID, sheet book.SheetCopy) {
	t.Helper()
	ctx := t.Context()
	for i, round := range []struct {
		label      string
		rail, luma float64
	}{{"as received", 5.012, 0.842}, {"output capacitor replaced", 5.013, 0.988}} {
		at := soakBegin.Add(time.Duration(i-3) * time.Hour)
		id, err := b.BeginRound(ctx, book.Round{Bench: "quay", Unit: unit, Label: round.label, Sheet: sheet, Begin: at})
		must(t, err)
		reading := func(point checks.TestPointName, m device.Measure, instrument string, v, u float64) book.RoundReading {
			return book.RoundReading{TestPoint: point, Instrument: instrument, Averaged: 8, Reading: device.Reading{Measure: m, Value: v, At: at, StandardUncertainty: u}}
		}
		must(t, b.AddRoundReadings(ctx, id,
			reading("rail-5v", device.DCVoltage, "meter", round.rail, 0.0015),
			reading("reservoir-ripple", device.Capacitance, "meter", 2130e-6-50e-6*float64(i), 10e-6),
			reading("composite", device.LumaPeakToPeak, "scope", round.luma, 0.003),
			reading("composite", device.White, "scope", 0.7*round.luma, 0.003), reading("composite", device.SyncTip, "scope", -0.3*round.luma, 0.003),
			reading("composite", device.Blanking, "scope", 0.001, 0.003)))
		_, err = b.AddCapture(ctx, book.KeptCapture{Round: id, TestPoint: "composite", Instrument: "scope", Kind: book.CaptureRound}, scopeRecord(round.luma, uint64(i), at)) // #nosec G115 -- 0 or 1
		must(t, err)
		must(t, b.EndRound(ctx, id, at.Add(time.Minute)))
	}
}

// scopeRecord is three lines of composite video.
func scopeRecord(gain float64, seed uint64, at time.Time) device.Capture {
	line := videoLine("", gain, 40e-9, 0.002, seed)
	record := device.Capture{SampleIntervalSeconds: line.IntervalSeconds, StepVolts: 0.001, LowVolts: -1, HighVolts: 2, Coupling: "dc", At: at}
	for range 3 {
		record.Volts = append(record.Volts, line.Volts...)
	}
	return record
}

// addReadings writes a soak's readings, one at each check every ten seconds.
func addReadings(t testing.TB, b *book.Book, sheet checks.Sheet, s story) {
	t.Helper()
	ctx, stop := context.WithCancel(context.WithoutCancel(t.Context()))
	defer stop()
	w := book.NewWriter(b, book.WriterOptions{CommitEvery: time.Hour})
	ended := make(chan error, 1)
	go func() { ended <- w.Run(ctx) }()
	rng := rand.New(rand.NewPCG(3, 4))
	for at := time.Duration(0); at <= 4*time.Hour; at += 10 * time.Second {
		if s.gap && at > 100*time.Minute && at < 110*time.Minute {
			continue
		}
		for _, point := range sheet.TestPoints {
			for _, check := range point.Checks {
				must(t, w.Append(reading(t, s, point.Name, check.Measure, at, rng)))
			}
		}
	}
	must(t, w.Flush(ctx))
	stop()
	must(t, <-ended)
}

// reading is one reading as an instrument sends it.
func reading(t testing.TB, s story, point checks.TestPointName, m device.Measure, at time.Duration, rng *rand.Rand) book.TaggedReading {
	t.Helper()
	var v, u float64
	instrument := "scope"
	switch m {
	case device.DCVoltage:
		instrument, v, u = "meter", 5.012+0.004*math.Sin(at.Hours()*2)+0.0006*rng.NormFloat64(), 0.0009
		if s.sags && at > 150*time.Minute && at < 154*time.Minute {
			v = 4.70 + 0.01*rng.Float64()
		}
	case device.Ripple:
		v, u = 0.42+0.01*rng.NormFloat64(), 0.004
	case device.LumaPeakToPeak:
		v, u = 0.988+0.002*rng.NormFloat64(), 0.003
	case device.Overshoot:
		v, u = 0.009+0.001*rng.NormFloat64(), 0.001
	case device.Noise:
		v, u = 0.0031+0.0001*rng.NormFloat64(), 0.0002
	case device.ACVoltage:
		instrument, v, u = "meter", 0.302+0.0004*rng.NormFloat64(), 0.0006
	}
	digits, err := scpi.ParseDecimal(fmt.Sprintf("%.5f", v))
	must(t, err)
	return book.TaggedReading{
		Tag:     book.Tag{Bench: "quay", Console: s.console, Unit: s.unit, TestPoint: point, Instrument: instrument, Measure: m},
		Reading: device.Reading{Measure: m, Value: digits.Float64(), Digits: digits, At: soakBegin.Add(at), StandardUncertainty: u},
	}
}

// certified is the certificate of a story.
func certified(t testing.TB, s story) Certificate {
	t.Helper()
	b, _ := soakedBook(t, s)
	if s.unit == "" {
		s.unit = certUnit
	}
	c, err := NewCertificate(t.Context(), b, s.unit, certOptions())
	must(t, err)
	return c
}

func certOptions() Options {
	return Options{Program: "soakline 0.9.0", Now: soakBegin.Add(5 * time.Hour), Zone: soakBegin.Location(), ParseSheet: parseBenchSheet}
}

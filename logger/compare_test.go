package logger

import (
	"math"
	"testing"

	"soakline/checks"
	"soakline/device"
	"soakline/logger/book"
)

// roundRow is a reading of a round in short.
type roundRow struct {
	point   checks.TestPointName
	measure device.Measure
	value   float64
	u       float64
}

func rowsOf(rows ...roundRow) []book.RoundReading {
	var all []book.RoundReading
	for _, r := range rows {
		all = append(all, book.RoundReading{TestPoint: r.point, Instrument: "meter", Averaged: 1,
			Reading: device.Reading{Measure: r.measure, Value: r.value, StandardUncertainty: r.u}})
	}
	return all
}

// TestCompare: the change has the uncertainty of two independent figures (JCGM
// 100:2008, 5.1.2), shows with k = 2 (6.2), and what is not larger is no change.
func TestCompare(t *testing.T) {
	limit := checks.Limit{Low: 0.95, High: 1.05, Nominal: 1, Guard: checks.GuardBand{Rule: checks.Simple}}
	sheet := checks.Sheet{TestPoints: []checks.TestPoint{{Name: "composite", Checks: []checks.Check{{Measure: device.LumaPeakToPeak, Limit: limit}}}}}
	level := func(v, u float64) []roundRow { return []roundRow{{"composite", device.LumaPeakToPeak, v, u}} }
	rows := []struct {
		name          string
		before, after []roundRow
		change, u     float64
		told          bool
		text, meaning string
		source        string
	}{
		{"low, and now right", level(0.842, 0.003), level(0.988, 0.004), 0.146, 0.005, true, "+0.146 V ± 0.010", "now within", "3-4-5"},
		{"right, and now high", level(1, 0.003), level(1.2, 0.004), 0.2, 0.005, true, "+0.200 V ± 0.010", "now outside", "3-4-5"},
		{"less, and still low", level(0.9, 0.003), level(0.8, 0.004), -0.1, 0.005, true, "-100 mV ± 10", "still outside", "3-4-5"},
		{"changed within the limit", level(0.97, 0.003), level(1.01, 0.004), 0.04, 0.005, true, "+40 mV ± 10", "", "3-4-5"},
		{"exactly U is no change", level(1, 3), level(11, 4), 10, 5, false, "no change that can be told (± 10 V)", "outside", "3-4-5, U = 10"},
		{"just beyond U is one", level(1, 3), level(11.001, 4), 10.001, 5, true, "+10 V ± 10", "now outside", "3-4-5, U = 10"},
		{"none at all", level(1, 0.003), level(1, 0.004), 0, 0.005, false, "no change that can be told (± 10 mV)", "", "3-4-5"},
		{"over the limit's edge, yet no change that can be told", level(0.951, 0.003), level(0.949, 0.004), -0.002, 0.005, false,
			"no change that can be told (± 10 mV)", "outside", "3-4-5"},
		{"nobody gave an uncertainty", level(0.9, 0), level(1, 0), 0.1, 0, false, "+100 mV, uncertainty not given", "within", "by hand"},
		{"no longer measured", level(1, 0.003), nil, math.NaN(), math.NaN(), false, "not known", "no longer measured", "no data is no 0"},
		{"measured now", nil, level(1, 0.003), math.NaN(), math.NaN(), false, "not known", "measured now", "no data is no 0"},
		{"measured in neither", nil, nil, math.NaN(), math.NaN(), false, "not known", "measured in neither", "no data is no 0"},
	}
	same := func(a, b float64) bool { return math.Abs(a-b) < 1e-12 || math.IsNaN(a) && math.IsNaN(b) }
	for _, row := range rows {
		c := Compare(sheet, book.Round{Readings: rowsOf(row.before...)}, book.Round{Readings: rowsOf(row.after...)})
		if len(c.Lines) != 1 {
			t.Errorf("%s: %d lines", row.name, len(c.Lines))
			continue
		}
		line := c.Lines[0]
		if !same(line.Change, row.change) || !same(line.ChangeU, row.u) || line.Told != row.told {
			t.Errorf("%s: change %g with %g, told %v; want %g with %g, %v (%s)", row.name, line.Change, line.ChangeU, line.Told, row.change, row.u, row.told, row.source)
		}
		if line.ChangeText() != row.text || line.Meaning() != row.meaning {
			t.Errorf("%s: %q, %q; want %q, %q", row.name, line.ChangeText(), line.Meaning(), row.text, row.meaning)
		}
	}
}

// TestCompareKeepsEveryFigure: what one of two rounds measured besides is there, and
// two instruments are noticed.
func TestCompareKeepsEveryFigure(t *testing.T) {
	sheet := checks.Sheet{TestPoints: []checks.TestPoint{{Name: "composite", Checks: []checks.Check{{Measure: device.Noise,
		Limit: checks.Limit{Low: math.Inf(-1), High: 0.01, Nominal: math.NaN(), Guard: checks.GuardBand{Rule: checks.Simple}}}}}}}
	before := rowsOf(roundRow{"composite", device.Noise, 1e-3, 1e-5}, roundRow{"composite", device.Tilt, 0.058, 0.001})
	after := rowsOf(roundRow{"composite", device.Noise, 2e-3, 1e-5}, roundRow{"composite", device.Rise, 90e-9, 1e-9})
	after[0].Instrument = "another"
	c := Compare(sheet, book.Round{Readings: before}, book.Round{Readings: after})
	got := map[device.Measure]ComparisonLine{}
	for _, line := range c.Lines {
		got[line.Check.Measure] = line
	}
	if len(c.Lines) != 3 {
		t.Fatalf("%d lines, want noise, rise and tilt", len(c.Lines))
	}
	if got[device.Noise].OneInstrument || !got[device.Noise].Told {
		t.Errorf("noise: %+v", got[device.Noise])
	}
	if got[device.Rise].Meaning() != "measured now" || got[device.Tilt].Meaning() != "no longer measured" || got[device.Tilt].After.State != "" {
		t.Errorf("rise %q, tilt %q", got[device.Rise].Meaning(), got[device.Tilt].Meaning())
	}
}

func TestCandidateText(t *testing.T) {
	rows := []struct {
		value float64
		unit  string
		want  string
	}{{68, "ohms", "68 ohm"}, {4700, "ohms", "4.7 kohm"}, {0, "ohms", "0 ohm"}, {100e-9, "farads", "100 nF"}, {3, "turns", "3 turns"}, {3, "", "3"}}
	for _, row := range rows {
		if got := CandidateText(row.value, row.unit); got != row.want {
			t.Errorf("%g %s: %q, want %q", row.value, row.unit, got, row.want)
		}
	}
}

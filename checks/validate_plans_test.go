package checks_test

import (
	"math"
	"strings"
	"testing"
	"time"

	"soakline/checks"
	"soakline/device"
)

// planSheet has a test point of each kind, all of them right: a reservoir whose load
// is read beside it, its wear and its discharge, and two audio outputs.
func planSheet() checks.Sheet {
	at := func(m device.Measure) checks.Check {
		c := railCheck()
		c.Measure = m
		return c
	}
	s := benchSheet()
	s.TestPoints = []checks.TestPoint{
		{Name: "reservoir", Checks: []checks.Check{at(device.Ripple)},
			Reservoir: &checks.ReservoirPlan{MainsHertz: 50, LoadAt: "load"},
			Discharge: &checks.DischargePlan{BelowVolts: 2, WatchFor: time.Minute, LoadOhms: 470, CapacitanceFarads: 2200e-6},
			Wear: &checks.WearPlan{Capacitance: &checks.WearLimit{OfFirst: 0.8, PerCelsius: nan}, ESR: &checks.WearLimit{At: "load", Limit: 0.25, OfFirst: 2},
				Source: "W-60", Thermometer: "case", ReferenceCelsius: 25}},
		{Name: "load", Checks: []checks.Check{at(device.DCCurrent)}},
		{Name: "case", Checks: []checks.Check{at(device.Temperature)}},
		{Name: "left", Checks: []checks.Check{at(device.ChannelBalance)}, Audio: &checks.AudioPlan{ToneHertz: 1000, MainsHertz: 60, Beside: "right", AlikeAtLeast: 1}},
		{Name: "right", Checks: []checks.Check{at(device.Hum)}, Audio: &checks.AudioPlan{}},
	}
	return s
}

// TestPlansValidate: what a test point asks for beside its checks is refused where it
// cannot be had, exactly on the edge as well.
func TestPlansValidate(t *testing.T) {
	const reservoir, left = "test_points[0].", "test_points[3]."
	type point = *checks.TestPoint
	for _, row := range []struct {
		name   string
		at     int
		change func(p point)
		want   string
	}{
		{"right", 0, func(point) {}, ""},

		{"no mains", 0, func(p point) { p.Reservoir.MainsHertz = 0 }, reservoir + "reservoir.mains_hz: 0 Hz: mains is 50 or 60 Hz"},
		{"mains of 60 Hz", 0, func(p point) { p.Reservoir.MainsHertz = 60 }, ""},
		{"no load", 0, func(p point) { p.Reservoir.LoadAt = "" }, reservoir + "reservoir.load_a: give the load current"},
		{"load twice", 0, func(p point) { p.Reservoir.LoadAmperes, p.Reservoir.LoadTolerance = 0.4, 0.1 }, reservoir + "reservoir.load_test_point: the load is given already"},
		{"load NaN", 0, func(p point) { p.Reservoir.LoadAmperes = nan }, reservoir + "reservoir.load_a: NaN A"},
		{"load without tolerance", 0, func(p point) { p.Reservoir.LoadAmperes, p.Reservoir.LoadAt = 0.4, "" }, reservoir + "reservoir.load_tolerance_pct: 0 %"},
		{"tolerance of all of it", 0, func(p point) {
			p.Reservoir.LoadAmperes, p.Reservoir.LoadAt, p.Reservoir.LoadTolerance = 0.4, "", 1
		}, reservoir + "reservoir.load_tolerance_pct: 100 %"},
		{"tolerance without load", 0, func(p point) { p.Reservoir.LoadTolerance = 0.1 }, reservoir + "reservoir.load_tolerance_pct: there is no load_a"},
		{"load nowhere", 0, func(p point) { p.Reservoir.LoadAt = "shelf" }, reservoir + `reservoir.load_test_point: there is no test point "shelf"`},
		{"load where no current is", 0, func(p point) { p.Reservoir.LoadAt = "case" }, reservoir + `reservoir.load_test_point: test point "case" has no check of the current`},
		{"a picture at a capacitor", 0, func(p point) { p.Checks[0].Measure = device.SyncTip }, reservoir + "checks[0].measure: sync-tip is a figure of composite video"},

		{"down to nothing", 0, func(p point) { p.Discharge.BelowVolts = 0 }, reservoir + "discharge.below_v: "},
		{"down to infinity", 0, func(p point) { p.Discharge.BelowVolts = math.Inf(1) }, reservoir + "discharge.below_v: "},
		{"not watched", 0, func(p point) { p.Discharge.WatchFor = 0 }, reservoir + "discharge.watch_for: watch for longer than nothing: charge comes back"},
		{"load below nothing", 0, func(p point) { p.Discharge.LoadOhms = -1 }, reservoir + "discharge.load_ohm: "},
		{"capacitance NaN", 0, func(p point) { p.Discharge.CapacitanceFarads = nan }, reservoir + "discharge.capacitance_f: "},
		{"capacitance in microfarads", 0, func(p point) { p.Discharge.CapacitanceFarads = 2200 }, reservoir + "discharge.capacitance_f: "},
		{"time constant below nothing", 0, func(p point) { p.Discharge.ExpectedTau = -1 }, reservoir + "discharge.expected_tau: "},
		{"path not known", 0, func(p point) { p.Discharge.LoadOhms, p.Discharge.CapacitanceFarads = 0, 0 }, ""},

		{"nothing wears", 0, func(p point) { p.Wear.Capacitance, p.Wear.ESR = nil, nil }, reservoir + "wear.capacitance: nothing is followed"},
		{"wear from nowhere", 0, func(p point) { p.Wear.Source = "" }, reservoir + "wear.source: "},
		{"wear at NaN", 0, func(p point) { p.Wear.ReferenceCelsius = nan }, reservoir + "wear.reference_celsius: "},
		{"worn when new", 0, func(p point) { p.Wear.Capacitance.OfFirst = 1 }, reservoir + "wear.capacitance.of_first: at 1 of its first figure a new part"},
		{"worn when new, the other way", 0, func(p point) { p.Wear.ESR.OfFirst = 1 }, reservoir + "wear.esr.of_first: "},
		{"of first below nothing", 0, func(p point) { p.Wear.ESR.OfFirst = -2 }, reservoir + "wear.esr.of_first: a share of the first figure is above 0"},
		{"no limit", 0, func(p point) { p.Wear.Capacitance.OfFirst = 0 }, reservoir + "wear.capacitance.low_f: there is no limit"},
		{"limit NaN", 0, func(p point) { p.Wear.ESR.Limit = nan }, reservoir + "wear.esr.high_ohm: "},
		{"per degree in per cent", 0, func(p point) { p.Wear.Capacitance.PerCelsius = 2 }, reservoir + "wear.capacitance.per_celsius: 2 for each degree"},
		{"leakage too", 0, func(p point) { p.Wear.Leakage = &checks.WearLimit{At: "load", Limit: 1e-3} }, ""},
		{"measured nowhere", 0, func(p point) { p.Wear.ESR.At = "shelf" }, reservoir + `wear.esr.test_point: there is no test point "shelf"`},
		{"no such thermometer", 0, func(p point) { p.Wear.Thermometer = "shelf" }, reservoir + `wear.thermometer: there is no test point "shelf"`},
		{"thermometer that is none", 0, func(p point) { p.Wear.Thermometer = "load" }, reservoir + `wear.thermometer: test point "load" has no check of the temperature`},
		{"no thermometer", 0, func(p point) { p.Wear.Thermometer = "" }, ""},

		{"tone below nothing", 3, func(p point) { p.Audio.ToneHertz = -1 }, left + "audio.tone_hz: "},
		{"mains of aircraft", 3, func(p point) { p.Audio.MainsHertz = 400 }, left + "audio.mains_hz: 400 Hz: mains is 50 or 60 Hz"},
		{"more than alike", 3, func(p point) { p.Audio.AlikeAtLeast = 1.01 }, left + "audio.alike_at_least_ratio: "},
		{"alike to nothing", 3, func(p point) { p.Audio.Beside, p.Checks[0].Measure = "", device.Hum }, left + "audio.alike_at_least_ratio: there is no beside"},
		{"beside nothing", 3, func(p point) { p.Audio.Beside = "shelf" }, left + `audio.beside: there is no test point "shelf"`},
		{"beside itself", 3, func(p point) { p.Audio.Beside = "left" }, left + "audio.beside: a test point is not beside itself"},
		{"beside what is no audio", 3, func(p point) { p.Audio.Beside = "case" }, left + `audio.beside: test point "case" is no audio output`},
		{"balance alone", 3, func(p point) { p.Audio.Beside, p.Audio.AlikeAtLeast = "", 0 }, left + "checks[0].measure: channel-balance needs the other channel"},
		{"a picture that sounds", 3, func(p point) { p.Checks[0].Measure = device.SyncTip }, left + "checks[0].measure: sync-tip is a figure of composite video"},
		{"sound without audio", 2, func(p point) { p.Checks = append(p.Checks, p.Checks[0]); p.Checks[1].Measure = device.ChannelBalance },
			"test_points[2].checks[1].measure: channel-balance is a figure of an audio output"},
		{"a capacitor that sounds", 3, func(p point) { p.Reservoir = &checks.ReservoirPlan{MainsHertz: 50, LoadAt: "load"} }, left + "reservoir: an audio output is no reservoir"},
	} {
		t.Run(row.name, func(t *testing.T) {
			s := planSheet()
			row.change(&s.TestPoints[row.at])
			wantLines(t, s.Validate(), row.want)
		})
	}
}

// TestTauExpected: tau = R C, exact arithmetic; what the sheet states comes first.
func TestTauExpected(t *testing.T) {
	plan := checks.DischargePlan{LoadOhms: 470, CapacitanceFarads: 2200e-6}
	if got := plan.TauExpected(); got.Round(time.Microsecond) != 1034*time.Millisecond {
		t.Errorf("470 ohm and 2200 uF give %s, want 1.034s", got)
	}
	plan.ExpectedTau = time.Second
	if got := plan.TauExpected(); got != time.Second {
		t.Errorf("got %s, want what the sheet says", got)
	}
	if got := (checks.DischargePlan{LoadOhms: 470}).TauExpected(); got != 0 {
		t.Errorf("nobody knows it, and it is %s", got)
	}
}

// TestStoredChargeCautions: no caution promises anything, and those that people have
// been hurt for want of are there (common practice, no source).
func TestStoredChargeCautions(t *testing.T) {
	all := strings.ToLower(strings.Join(checks.StoredChargeCautions(), "\n"))
	for _, promise := range []string{"safe", "harmless", "cannot hurt", "may be touched now"} {
		if strings.Contains(all, promise) {
			t.Errorf("the cautions say %q", promise)
		}
	}
	for _, must := range []string{"unplugged is not discharged", "proved on a known source", "comes back by itself", "resistor", "60 v dc", "polarity", "licensed", "local rules"} {
		if !strings.Contains(all, must) {
			t.Errorf("the cautions do not say %q", must)
		}
	}
}

// TestWornFigureKey: a figure is measured where the plan stands, or where it says.
func TestWornFigureKey(t *testing.T) {
	plan := planSheet().TestPoints[0].Wear
	want := []checks.CheckKey{{TestPoint: "reservoir", Measure: device.Capacitance}, {TestPoint: "load", Measure: device.SeriesResistance}, {TestPoint: "reservoir", Measure: device.DCCurrent}}
	for i, f := range plan.Figures() {
		if got := f.Key("reservoir"); got != want[i] {
			t.Errorf("%s is measured at %s, want %s", f.Name, got, want[i])
		}
	}
}

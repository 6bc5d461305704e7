package logger_test

import (
	"math"
	"strings"
	"testing"
	"time"

	"soakline/checks"
	"soakline/device"
	"soakline/logger"
	"soakline/logger/book"
)

// rippleBench has the scope's channel 3 at the reservoir, DC coupled, and the meter
// reading the current that the capacitor feeds: the simulated bench's own circuit
// draws 0.45 A from 4700 uF with 40 mohm.
func rippleBench(settings *logger.Settings) {
	check := func(m device.Measure, low, high float64) checks.Check {
		return checks.Check{Measure: m, Every: 200 * time.Millisecond, FreshFor: 5 * time.Second, Hold: time.Second,
			Limit: checks.Limit{Low: low, High: high, Nominal: math.NaN(), Source: "for the test", Guard: checks.GuardBand{Rule: checks.Simple}}}
	}
	inf := math.Inf(1)
	sheet := settings.Sheets[0]
	sheet.TestPoints = []checks.TestPoint{
		{Name: "stated", Reservoir: &checks.ReservoirPlan{MainsHertz: 50, LoadAmperes: 0.45, LoadTolerance: 0.05},
			Checks: []checks.Check{check(device.Ripple, -inf, 1), check(device.Capacitance, 3760e-6, inf)},
			Wear: &checks.WearPlan{Capacitance: &checks.WearLimit{OfFirst: 0.8, PerCelsius: math.NaN()}, ESR: &checks.WearLimit{OfFirst: 2, PerCelsius: math.NaN()},
				Source: "for the test", ReferenceCelsius: 25}},
		{Name: "read", Reservoir: &checks.ReservoirPlan{MainsHertz: 50, LoadAt: "load"}, Checks: []checks.Check{check(device.SeriesResistance, -inf, 0.1)}},
		{Name: "load", Checks: []checks.Check{check(device.DCCurrent, 0.01, 1)}},
	}
	sheet.Trial = []checks.Criterion{{TestPoint: "stated", Measure: device.Capacitance, Aim: checks.Most}}
	settings.Sheets = []checks.Sheet{sheet}
	scope, meter := &settings.Instruments[1].Commands, &settings.Instruments[0].Commands
	scope.Prepare = append(scope.Prepare, "CHANnel3:PROBe 10;:CHANnel3:COUPling DC;:CHANnel3:SCALe 0.4;:CHANnel3:OFFSet 11")
	ripple := *scope.Capture
	ripple.Arm = []string{"SWEep:TIME 0.2", "SWEep:POINts 10000", "TRIGger:SOURce NONE", "RECord:SOURce CHANnel{channel}", "RECord:FORMat BYTE",
		"RECord:SIGNed OFF", "SINGle"}
	scope.RippleCapture = &ripple
	meter.Asks = append(meter.Asks, device.Ask{Measure: device.DCCurrent, Send: "MEASure:CURRent:DC?", Accuracy: device.Accuracy{PercentOfReading: 0.5}})
	settings.Places[0].Connections = []logger.Connection{{TestPoint: "stated", Instrument: "scope", Channel: "3"},
		{TestPoint: "read", Instrument: "scope", Channel: "3"}, {TestPoint: "load", Instrument: "meter", Channel: "102"}}
}

// readingOf is a figure of a round.
func readingOf(t *testing.T, round book.Round, point checks.TestPointName, m device.Measure) book.RoundReading {
	t.Helper()
	for _, r := range round.Readings {
		if r.TestPoint == point && r.Measure == m {
			return r
		}
	}
	t.Fatalf("round %q has no %s at %s: %+v", round.Label, m, point, round.Readings)
	return book.RoundReading{}
}

// A round takes capacitance and series resistance from the ripple, by the load that
// the sheet states and by the one that is read beside; a worn capacitor shows in the
// comparison, and the history follows both.
func TestRoundsTellTheCapacitorFromItsRipple(t *testing.T) {
	s := newSimulated(t, rippleBench)
	first, reports := s.takeRound(t, logger.RoundRequest{Label: "as received"})
	s.fault(t, "B8-0147", "wear", "0.0033", "0.15")
	second, _ := s.takeRound(t, logger.RoundRequest{Label: "worn"})
	for _, row := range []struct {
		round       book.Round
		point       checks.TestPointName
		farads, esr float64
		loadShare   float64 // of the capacitance, from the load alone
	}{
		{first, "stated", 4700e-6, 0.04, 0.05 / math.Sqrt(3)}, {second, "stated", 3300e-6, 0.15, 0.05 / math.Sqrt(3)},
		{first, "read", 4700e-6, 0.04, 0.005 / math.Sqrt(3)}, {second, "read", 3300e-6, 0.15, 0.005 / math.Sqrt(3)},
	} {
		c, r := readingOf(t, row.round, row.point, device.Capacitance), readingOf(t, row.round, row.point, device.SeriesResistance)
		if math.Abs(c.Value-row.farads) > 0.03*row.farads || !(c.StandardUncertainty >= 0.999*row.loadShare*c.Value) || c.StandardUncertainty > 2*row.loadShare*row.farads+0.01*row.farads {
			t.Errorf("%s at %s: %g F ± %g, is %g", row.round.Label, row.point, c.Value, c.StandardUncertainty, row.farads)
		}
		if math.Abs(r.Value-row.esr) > max(0.05*row.esr, 2*r.StandardUncertainty) || !(r.StandardUncertainty > 0) || r.StandardUncertainty > row.esr/3 {
			t.Errorf("%s at %s: %g ohm ± %g, is %g", row.round.Label, row.point, r.Value, r.StandardUncertainty, row.esr)
		}
		if f := readingOf(t, row.round, row.point, device.Frequency); math.Abs(f.Value-100) > 1 {
			t.Errorf("%s at %s: ripple at %g Hz", row.round.Label, row.point, f.Value)
		}
	}
	if len(reports["stated"].Remarks) > 0 || len(reports["read"].Remarks) > 0 {
		t.Errorf("remarks %q %q", reports["stated"].Remarks, reports["read"].Remarks)
	}
	told := map[device.Measure]bool{}
	for _, line := range logger.Compare(s.sheet, first, second).Lines {
		if line.Check.TestPoint == "read" {
			told[line.Check.Measure] = line.Told
		}
	}
	if !told[device.Capacitance] || !told[device.SeriesResistance] || told[device.Frequency] {
		t.Errorf("what changed: %v", told)
	}
	history, err := s.History(t.Context(), "B8-0147", "stated", time.Time{})
	if err != nil || len(history.Wear) != 1 {
		t.Fatalf("history %+v, %v", history.Wear, err)
	}
	w := history.Wear[0]
	if len(w.Capacitance.Points) != 2 || len(w.ESR.Points) != 2 || math.Abs(w.Limits.LowFarads-0.8*4700e-6) > 0.03*4700e-6 {
		t.Errorf("wear %+v", w)
	}
}

// A soak takes both as readings that are judged and kept, and a leg of the rectifier
// that falls out is said; with one out the capacitance stays what it is.
func TestSoakTellsTheCapacitorFromItsRipple(t *testing.T) {
	s := newSimulated(t, rippleBench)
	soak, err := s.BeginSoak(t.Context(), logger.SoakRequest{Unit: "B8-0147", For: time.Minute})
	if err != nil {
		t.Fatal(err)
	}
	s.awaitState(t, checks.CheckKey{TestPoint: "stated", Measure: device.Capacitance}, checks.Within)
	s.awaitState(t, checks.CheckKey{TestPoint: "read", Measure: device.SeriesResistance}, checks.Within)
	s.fault(t, "B8-0147", "wear", "0.0033", "0.15")
	s.awaitState(t, checks.CheckKey{TestPoint: "stated", Measure: device.Capacitance}, checks.Outside)
	s.awaitState(t, checks.CheckKey{TestPoint: "read", Measure: device.SeriesResistance}, checks.Outside)
	if err := s.EndSoak(t.Context(), "B8-0147", "seen enough"); err != nil {
		t.Fatal(err)
	}
	n := 0
	for r, err := range s.Book().Readings(t.Context(), book.Filter{Unit: "B8-0147", TestPoint: "read", Measure: device.SeriesResistance, Since: soak.Begin, Until: time.Now()}) {
		if err != nil {
			t.Fatal(err)
		}
		n++
		if !(r.StandardUncertainty > 0) {
			t.Errorf("%+v has no uncertainty", r)
		}
	}
	if n == 0 {
		t.Error("the book has no series resistance")
	}
}

// Without the load nothing is made up, and it is said.
func TestRippleWithoutTheLoad(t *testing.T) {
	s := newSimulated(t, rippleBench, func(settings *logger.Settings) {
		settings.Places[0].Connections[2].Channel = "105" // a thermometer: 9.91E37, nothing to measure
	})
	round, reports := s.takeRound(t, logger.RoundRequest{Label: "as received"})
	for _, r := range round.Readings {
		if r.TestPoint == "read" && (r.Measure == device.Capacitance || r.Measure == device.SeriesResistance) {
			t.Errorf("made up: %+v", r)
		}
	}
	said := false
	for _, f := range reports["read"].Findings {
		said = said || strings.Contains(f.Text, "the load current at load was not read")
	}
	if !said {
		t.Errorf("findings %+v, remarks %q", reports["read"].Findings, reports["read"].Remarks)
	}
}

package logger_test

import (
	"math"
	"strings"
	"testing"
	"time"

	"soakline/checks"
	"soakline/checks/reservoir"
	"soakline/device"
	"soakline/logger"
	"soakline/logger/book"
)

// dischargeBench watches the simulated unit's reservoir, whose discharge path is
// 8.7 kohm, with a thermometer beside.
func dischargeBench(settings *logger.Settings) {
	check := func(m device.Measure) checks.Check {
		return checks.Check{Measure: m, Every: time.Second, FreshFor: 3 * time.Second, Hold: time.Second,
			Limit: checks.Limit{Low: math.Inf(-1), High: 60, Nominal: math.NaN(), Source: "for the test", Guard: checks.GuardBand{Rule: checks.Simple}}}
	}
	sheet := settings.Sheets[0]
	sheet.TestPoints = []checks.TestPoint{
		{Name: "reservoir", Checks: []checks.Check{check(device.DCVoltage)},
			Discharge: &checks.DischargePlan{BelowVolts: 2, WatchFor: 500 * time.Millisecond, LoadOhms: 446},
			Wear: &checks.WearPlan{Capacitance: &checks.WearLimit{OfFirst: 0.8, PerCelsius: 0.002}, Source: "for the test",
				Thermometer: "case", ReferenceCelsius: 25}},
		{Name: "case", Checks: []checks.Check{check(device.Temperature)}},
	}
	sheet.Trial = nil
	settings.Sheets = []checks.Sheet{sheet}
	settings.Instruments[0].Commands.Asks = append(settings.Instruments[0].Commands.Asks, device.Ask{Measure: device.Temperature, Send: "MEASure:TEMPerature?"})
	settings.Places[0].Connections = []logger.Connection{{TestPoint: "reservoir", Instrument: "meter", Channel: "102"}, {TestPoint: "case", Instrument: "thermometer"}}
}

// byMeter reads the temperature with the meter, which is asked; the thermometer talks.
func byMeter(settings *logger.Settings) {
	settings.Places[0].Connections[1] = logger.Connection{TestPoint: "case", Instrument: "meter", Channel: "105"}
}

// A discharge with a thermometer beside: the temperature is read once, asked or heard,
// and kept with the voltage; the capacitance of the discharge is brought to the
// reference temperature by it.
func TestDischargeWithAThermometerBeside(t *testing.T) {
	for _, row := range []struct {
		name   string
		change []func(*logger.Settings)
	}{{"that talks", []func(*logger.Settings){dischargeBench}}, {"that is asked", []func(*logger.Settings){dischargeBench, byMeter}}} {
		t.Run(row.name, func(t *testing.T) {
			s := newSimulated(t, row.change...)
			s.discharged(t)
			temperatures := s.kept(t, "case", device.Temperature, 1)
			if len(temperatures) != 1 || temperatures[0].Value < 15 || temperatures[0].Value > 40 {
				t.Fatalf("temperatures %+v", temperatures)
			}
			if volts := s.kept(t, "reservoir", device.DCVoltage, 5); len(volts) < 5 || volts[len(volts)-1].Value > 2 {
				t.Errorf("voltages %+v", volts)
			}
			// 4700 uF and 4 % more that has been absorbed; the clip of 470 ohm beside 8.7 kohm.
			farads := s.kept(t, "reservoir", device.Capacitance, 1)
			if len(farads) != 1 || math.Abs(farads[0].Value-4700e-6) > 0.1*4700e-6 || !(farads[0].StandardUncertainty > 0) {
				t.Fatalf("capacitances %+v", farads)
			}
			history, err := s.History(t.Context(), "B8-0147", "reservoir", time.Time{})
			if err != nil || len(history.Wear) != 1 || len(history.Wear[0].Capacitance.Points) != 1 {
				t.Fatalf("history %+v, %v", history.Wear, err)
			}
			point := history.Wear[0].Capacitance.Points[0]
			want := farads[0].Value / (1 + 0.002*(temperatures[0].Value-25))
			if point.Celsius != temperatures[0].Value || math.Abs(point.Value-want) > 1e-3*want {
				t.Errorf("%+v, want %g F at 25 degrees, read at %g", point, want, temperatures[0].Value)
			}
		})
	}
}

// A thermometer that says nothing is told of, and the discharge is watched all the same.
func TestDischargeWithASilentThermometer(t *testing.T) {
	s := newSimulated(t, dischargeBench, byMeter, func(settings *logger.Settings) {
		settings.Places[0].Connections[1].Channel = "101" // a rail has no temperature
	})
	s.discharged(t)
	if temperatures := s.kept(t, "case", device.Temperature, 0); len(temperatures) > 0 {
		t.Errorf("made up: %+v", temperatures)
	}
	events, err := s.Book().Events(t.Context(), "pier-end", time.Now().Add(-time.Hour), time.Now().Add(time.Hour))
	if err != nil {
		t.Fatal(err)
	}
	for _, e := range events {
		if e.Kind == logger.Discharged && strings.Contains(e.Text, "the temperature beside it, at case, is not known") {
			return
		}
	}
	t.Errorf("it is not among %+v", events)
}

// discharged switches the unit off, puts a resistor on and watches until it has stayed
// below.
func (s simulated) discharged(t *testing.T) {
	t.Helper()
	s.fault(t, "B8-0147", "power", "off")
	clipped := false
	err := s.WatchDischarge(t.Context(), "B8-0147", "", "reservoir", func(o reservoir.Outlook) bool {
		if !clipped && !math.IsNaN(o.Volts) {
			s.fault(t, "B8-0147", "clip", "470", "20s")
			clipped = true
		}
		return !o.Watched
	})
	if err != nil {
		t.Fatal(err)
	}
}

// kept are the readings of a test point in the book, once there are so many.
func (s simulated) kept(t *testing.T, point checks.TestPointName, m device.Measure, least int) (all []device.Reading) {
	t.Helper()
	for deadline := time.Now().Add(10 * time.Second); ; <-time.After(20 * time.Millisecond) {
		all = nil
		for r, err := range s.Book().Readings(t.Context(), book.Filter{Unit: "B8-0147", TestPoint: point, Measure: m}) {
			if err != nil {
				t.Fatal(err)
			}
			all = append(all, r.Reading)
		}
		if len(all) >= least || time.Now().After(deadline) {
			return all
		}
	}
}

package device_test

import (
	"context"
	"fmt"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"soakline/device"
	"soakline/device/devicetest"
	"soakline/device/simbench"
)

// levels are what the simulated unit truly has at each channel of the meter, far
// enough apart that an answer for another channel shows.
var levels = map[string]float64{"101": 5, "102": 12}

// tolerance is the meter's share of error and the last digit.
const tolerance = 1e-4

// simulatedBench is one meter on three rails without noise.
func simulatedBench(port string) simbench.Config {
	var rails []simbench.RailConfig
	var wires []simbench.WireConfig
	for i, level := range []float64{5, 12} {
		name := fmt.Sprintf("rail-%d", i)
		rails = append(rails, simbench.RailConfig{Name: name, NominalV: level, RejectionDB: 140, DropoutV: 1})
		wires = append(wires, simbench.WireConfig{Channel: 101 + i, Unit: "B8-0147", TestPoint: name})
	}
	return simbench.Config{
		Seed: 1,
		Units: []simbench.UnitConfig{{Asset: "B8-0147", Console: "Brambling 8", MainsHz: 50, Rails: rails,
			Reservoir: simbench.ReservoirConfig{Name: "reservoir", PeakV: 18, CapacitanceF: 4700e-6, LoadA: 0.4, RegulatesDownToV: 13, DeadLoadOhm: 8700},
			Case:      simbench.TemperatureConfig{Name: "case", AmbientCelsius: 21, WarmUpS: 900}}},
		Instruments: []simbench.InstrumentConfig{{Name: "meter", Kind: simbench.Meter, Port: port, Identity: "Saltmarsh,M6,S60017,1.4", Ending: "lf",
			Wiring: wires, Meter: &simbench.MeterConfig{}}},
	}
}

// startSimulated runs a simulated bench until the test ends.
func startSimulated(t testing.TB, c simbench.Config) *simbench.Bench {
	t.Helper()
	b, err := simbench.New(c)
	if err != nil {
		t.Fatal(err)
	}
	ctx, cancel := context.WithCancel(context.Background())
	ended := make(chan error, 1)
	go func() { ended <- b.Run(ctx) }()
	t.Cleanup(func() {
		cancel()
		if err := <-ended; err != nil {
			t.Errorf("the simulated bench ended with %v", err)
		}
	})
	select {
	case <-b.Ready():
	case err := <-ended:
		ended <- nil
		t.Fatalf("the simulated bench did not start: %v", err)
	}
	return b
}

func simulatedLink(port string) device.Link {
	return device.Link{Name: "meter", Port: port, Commands: device.CommandSet{
		Name: "simulated", Line: plainLine, Identify: "*IDN?", Prepare: []string{"*RST;*OPC?"}, Select: "ROUTe:CLOSe (@{channel})",
		Asks:       []device.Ask{{Measure: device.DCVoltage, Send: "MEASure:VOLTage:DC?", Timeout: 500 * time.Millisecond}},
		ErrorCheck: device.ErrorCheck{Send: "SYSTem:ERRor?", Every: 200 * time.Millisecond},
	}}
}

// trueLevel holds a reading against what the simulated unit has there.
func trueLevel(d devicetest.Delivered) error {
	if want := levels[d.Channel]; want == 0 || d.Value < want-tolerance*want || d.Value > want+tolerance*want {
		return fmt.Errorf("channel %s reads %g V and has %g V", d.Channel, d.Value, want)
	}
	return nil
}

func TestPromisesSimulated(t *testing.T) {
	devicetest.Run(t, func(t *testing.T) devicetest.Rig {
		port := filepath.Join(t.TempDir(), "meter")
		bench := startSimulated(t, simulatedBench(port))
		fault := func(name string, args ...string) {
			if err := bench.Fault("meter", name, args...); err != nil {
				t.Error(err)
			}
		}
		return devicetest.Rig{
			Link: simulatedLink(port), Wants: wants(), Check: trueLevel,
			Pull: func() { fault("unplug", "400ms") }, Return: func() {},
			Silence: func(on bool) { fault("silence", map[bool]string{true: "on", false: "off"}[on]) },
			Garbage: func() { fault("garbage") },
		}
	})
}

// Whatever goes wrong on the line or in the instrument is an event, reading goes
// on by itself, and no wrong value is delivered.
func TestFaults(t *testing.T) {
	cases := []struct {
		fault string
		kinds []device.Kind // one of which is told
		note  string
	}{
		{"silence 3", []device.Kind{device.Silence}, "common practice, no source"},
		{"silence 5s", []device.Kind{device.Silence}, "longer than getting in step takes"},
		{"garbage 3", []device.Kind{device.Garbage}, "S-P11"},
		{"half-line 2", []device.Kind{device.Garbage, device.Silence}, "S-P4"},
		{"late 2", []device.Kind{device.Silence, device.Garbage}, "S-77: the answer to the question before"},
		{"duplicate 3", []device.Kind{device.Garbage}, "S-77"},
		{"wrong-speed 600ms", []device.Kind{device.Garbage, device.Silence}, "S-P25"},
		{"overflow 2 plus", []device.Kind{device.Overflow}, "SCPI-1999, vol. 1, 7.2.1.4: 9.9E37"},
		{"overflow 2 minus", []device.Kind{device.Overflow}, "SCPI-1999, vol. 1, 7.2.1.4: -9.9E37"},
		{"overflow 2 nan", []device.Kind{device.Overflow}, "SCPI-1999, vol. 1, 7.2.1.5: 9.91E37"},
		{"unplug 300ms", []device.Kind{device.Lost}, "S-P1, S-P2"},
		{"unplug 300ms other", []device.Kind{device.Lost}, "S-P6: back under another name"},
		{"power-cycle 300ms", []device.Kind{device.Silence, device.Garbage}, "settings are forgotten"},
		{"error -222 range", []device.Kind{device.Refused}, "SCPI-1999, vol. 2, 21.8"},
		{"slow 900 2", []device.Kind{device.Silence, device.Garbage}, "S-77: the answer comes after its time"},
	}
	for _, c := range cases {
		t.Run(c.fault, func(t *testing.T) {
			t.Parallel()
			dir := t.TempDir()
			bench := startSimulated(t, simulatedBench(filepath.Join(dir, "meter")))
			recorder := devicetest.NewRecorder()
			keeper := device.NewKeeper(simulatedLink("idn:M6,S60017"), recorder)
			keeper.SetCandidates(func() []string { return []string{filepath.Join(dir, "meter"), filepath.Join(dir, "other")} })
			keeper.SetWants(wants())
			stop := devicetest.Start(t, keeper)
			recorder.AwaitReadings(t, 5)
			so := len(recorder.Events())
			words := strings.Fields(c.fault)
			for i := range words {
				if words[i] == "other" {
					words[i] = filepath.Join(dir, "other")
				}
			}
			if err := bench.Fault("meter", words[0], words[1:]...); err != nil {
				t.Fatal(err)
			}
			recorder.Await(t, fmt.Sprintf("one of %s", c.kinds), func() bool { return told(recorder.Events()[so:], c.kinds) })
			recorder.AwaitReadings(t, 10)
			stop()
			for i, d := range recorder.Readings() {
				if err := trueLevel(d); err != nil {
					t.Errorf("reading %d (%s): %v", i, c.note, err)
				}
			}
		})
	}
}

// TestSlowedHundredfold: an instrument that takes a hundred times its time, and still
// answers within the patience that its command set gives it, is read on, slower; what
// it says is believed, and nothing is told.
func TestSlowedHundredfold(t *testing.T) {
	bench := startSimulated(t, simulatedBench(filepath.Join(t.TempDir(), "meter")))
	recorder := devicetest.NewRecorder()
	keeper := device.NewKeeper(simulatedLink(bench.Ports()["meter"]), recorder)
	keeper.SetWants(wants())
	stop := devicetest.Start(t, keeper)
	recorder.AwaitReadings(t, 5)
	if err := bench.Fault("meter", "slow", "100", "on"); err != nil {
		t.Fatal(err)
	}
	recorder.AwaitReadings(t, len(recorder.Readings())+6)
	if err := bench.Fault("meter", "clear"); err != nil {
		t.Fatal(err)
	}
	recorder.AwaitReadings(t, len(recorder.Readings())+6)
	stop()
	for _, d := range recorder.Readings() {
		if err := trueLevel(d); err != nil {
			t.Error(err)
		}
	}
	for _, e := range recorder.Events() {
		if e.Kind != device.Opened && e.Kind != device.Returned {
			t.Errorf("told %s: %s", e.Kind, e.Text)
		}
	}
}

func told(events []device.Event, kinds []device.Kind) bool {
	for _, e := range events {
		for _, kind := range kinds {
			if e.Kind == kind {
				return true
			}
		}
	}
	return false
}

package simbench

import (
	"bytes"
	"encoding/json"
	"math"
	"strings"
	"testing"
)

func TestDemoConfigGoesThroughJSON(t *testing.T) {
	c := DemoConfig(t.TempDir())
	data, err := json.Marshal(c)
	if err != nil {
		t.Fatal(err)
	}
	again, err := ReadConfig(bytes.NewReader(data))
	if err != nil {
		t.Fatal(err)
	}
	back, err := json.Marshal(again)
	if err != nil || !bytes.Equal(data, back) {
		t.Errorf("it came back changed: %v\n%s\n%s", err, data, back)
	}
}

func TestReadConfigIsStrict(t *testing.T) {
	for _, row := range []struct{ text, want string }{
		{`{"sead": 1}`, `unknown field "sead"`},
		{`{"seed": "one"}`, "seed"},
		{`{"seed": 1`, "unexpected EOF"},
		{``, "EOF"},
		{`{} {}`, "more follows"},
		{`{"seed": 1}`, "instruments: there is none"},
	} {
		if _, err := ReadConfig(strings.NewReader(row.text)); err == nil || !strings.Contains(err.Error(), row.want) {
			t.Errorf("%s gives %v, want %s", row.text, err, row.want)
		}
	}
}

func TestValidateNamesEveryMistake(t *testing.T) {
	for _, row := range []struct {
		spoil func(*Config)
		want  string
	}{
		{func(c *Config) { c.Units[1].Asset = "B8-0147" }, `units[1].asset: "B8-0147" is there twice`},
		{func(c *Config) { c.Units[0].Asset = "B8 0147" }, "has a space"},
		{func(c *Config) { c.Units[0].MainsHz = 0 }, "units[0].mains_hz: 0 is not between 40 and 70"},
		{func(c *Config) { c.Units[0].Reservoir.CapacitanceF = math.NaN() }, "units[0].reservoir.capacitance_f: NaN"},
		{func(c *Config) { c.Units[0].Reservoir.AbsorptionS = 0 }, "units[0].reservoir.absorption_s"},
		{func(c *Config) { c.Units[0].Rails[0].Name = "reservoir" }, `units[0].rails[0].name: "reservoir" is there twice`},
		{func(c *Config) { c.Units[0].Composite.Lines = 300 }, "units[0].composite.lines: 300"},
		{func(c *Config) { c.Units[0].Composite.System = "405/50" }, `"405/50" is none of`},
		{func(c *Config) { c.Units[0].Composite.Picture = "sunset" }, "units[0].composite.picture"},
		{func(c *Config) { c.Units[0].Composite.LinePeriodS = 64 }, "units[0].composite.line_period_s"},
		{func(c *Config) { c.Units[0].Composite.RingRatio = 0.9 }, "units[0].composite.ring_ratio"},
		{func(c *Config) { c.Units[0].Tones[0].FrequencyHz = 0 }, "units[0].tones[0].frequency_hz"},
		{func(c *Config) { c.Units[0].Faults = []FaultConfig{{AfterS: -1}} }, "units[0].faults[0].after_s"},
		{func(c *Config) { c.Instruments[1].Name = "meter" }, `instruments[1].name: "meter" is there twice`},
		{func(c *Config) { c.Instruments[0].Name = "" }, "instruments[0].name: missing"},
		{func(c *Config) { c.Instruments[0].Kind = "lamp" }, `instruments[0].kind: "lamp"`},
		{func(c *Config) { c.Instruments[0].Meter = nil }, "instruments[0].kind"},
		{func(c *Config) { c.Instruments[0].Ending = "cr" }, "instruments[0].ending"},
		{func(c *Config) { c.Instruments[0].Identity = "two;parts" }, "instruments[0].identity"},
		{func(c *Config) { c.Instruments[0].Port = "" }, "instruments[0].port: missing"},
		{func(c *Config) { c.Instruments[0].Port = "0.0.0.0:5025" }, "not a loopback address"},
		{func(c *Config) { c.Instruments[1].Port = c.Instruments[0].Port }, "instruments[1].port"},
		{func(c *Config) { c.Instruments[0].Wiring[0].Unit = "B8-0000" }, `instruments[0].wiring[0].unit: there is no unit "B8-0000"`},
		{func(c *Config) { c.Instruments[0].Wiring[0].TestPoint = "rail-9v" }, `unit B8-0147 has no test point "rail-9v"`},
		{func(c *Config) { c.Instruments[0].Wiring[1].Channel = 101 }, "101 is wired twice"},
		{func(c *Config) { c.Instruments[1].Scope.Bits = 7 }, "instruments[1].scope.bits"},
		{func(c *Config) { c.Instruments[2].Wiring = nil }, "a talker has exactly one"},
		{func(c *Config) { c.Instruments[2].Talker.IntervalS = 0 }, "instruments[2].talker.interval_s"},
		{func(c *Config) { c.Instruments[3].Supply.SetV = 31 }, "instruments[3].supply.set_v"},
		{func(c *Config) { c.Instruments[3].Supply.Feeds = "B8-0000" }, "instruments[3].supply.feeds"},
	} {
		c := DemoConfig(t.TempDir())
		if !ptySupported && strings.HasPrefix(row.want, "instruments[1].port") {
			continue // two free TCP ports are not the same
		}
		row.spoil(&c)
		if _, err := New(c); err == nil || !strings.Contains(err.Error(), row.want) {
			t.Errorf("got %v, want %s", err, row.want)
		}
	}
	c := DemoConfig(t.TempDir())
	c.Units[0].MainsHz, c.Instruments[0].Ending = 0, "cr"
	if err := c.Validate(); err == nil || strings.Count(err.Error(), "\n") != 1 {
		t.Errorf("two mistakes give %v", err)
	}
}

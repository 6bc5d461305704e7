package simbench

import (
	"math"
	"strconv"
	"strings"
	"testing"
)

// figure reads an answer as a number.
func figure(t testing.TB, answer string) float64 {
	t.Helper()
	v, err := strconv.ParseFloat(answer, 64)
	if err != nil {
		t.Fatalf("%q is no number: %v", answer, err)
	}
	return v
}

func near(t testing.TB, what string, got, want, within float64) {
	t.Helper()
	if !(math.Abs(got-want) <= within) {
		t.Errorf("%s is %.9g, want %.9g within %.3g", what, got, want, within)
	}
}

func TestMeterMeasuresWhatItIsWiredTo(t *testing.T) {
	b := start(t, fast(t))
	p := open(t, b, "meter")
	p.ask("*IDN?")
	rail, reservoir := 5.022-0.012*0.42, newMainsShape(DemoConfig("").Units[0].Reservoir, 50)
	for _, row := range []struct {
		ask          string
		want, within float64
		source       string
	}{
		{"ROUT:CLOS (@101);:MEAS:VOLT?", rail, 2e-3, "nominal less load times source resistance"},
		{"ROUTE:CLOSE (@101);:measure:scalar:voltage:dc?", rail, 2e-3, "long form, any case"},
		{"ROUT:CLOS (@102);:VOLT:NPLC 1;:MEAS:VOLT?", reservoir.mean(), 20e-3, "mean over one mains period"},
		{"ROUT:CLOS (@103);:MEAS:VOLT:AC?", 0.316, 1e-3, "the tone's level"},
		{"ROUT:CLOS (@103);:MEAS:FREQ?", 1000, 0.5, "the tone's frequency"},
		{"ROUT:CLOS (@101);:MEAS:CURR?", 0.42, 1e-3, "the rail's load"},
		{"ROUT:CLOS (@101);:MEAS:RES?", rail / 0.42, 0.1, "Ohm's law"},
		{"ROUT:CLOS (@105);:MEAS:TEMP?", 21, 0.5, "ambient at the start"},
		{"ROUT:CLOS (@102);:MEAS:FREQ?", 100, 0.5, "power.md W-20: full wave, twice the mains"},
	} {
		near(t, row.ask+" ("+row.source+")", figure(t, p.ask(row.ask)), row.want, row.within)
	}
	if got := p.errors(); got != "" {
		t.Errorf("errors %s", got)
	}
}

func TestMeterAnswersAsTheStandardHasIt(t *testing.T) {
	c := fast(t)
	b := start(t, c)
	p := open(t, b, "meter")
	for _, row := range []struct{ ask, want, source string }{
		{"ROUT:CLOS (@101);:MEAS:VOLT? 1", "9.9E37", "SCPI-1999 vol. 1, 7.2.1.4: over range is infinity"},
		{"MEAS:TEMP?", "9.91E37", "SCPI-1999 vol. 1, 7.2.1.5: not a number"},
		{"ROUT:CLOS? (@101:103)", "1,0,0", "own"},
		{"CONF:VOLT:AC;:CONF?", `"VOLT:AC"`, "own"},
		{"*RST;*OPC?", "1", "S-03, IEEE 488.2 10.19"},
		{"*TST?;*OPC?", "0;1", "S-21: replies of one message"},
		{"*ESR?", "128", "S-04: power on, cleared by reading"},
		{"*ESR?", "0", "S-04"},
	} {
		if got := p.ask(row.ask); got != row.want {
			t.Errorf("%s answered %q, want %q (%s)", row.ask, got, row.want, row.source)
		}
	}
	p.send("FETC?") // nothing valid after *RST
	if got := p.errors(); got != "-230" {
		t.Errorf("FETCh? without a reading left %q (S-52)", got)
	}
	if first, again := p.ask("READ?"), p.ask("FETC?"); first != again {
		t.Errorf("READ? answered %s and FETCh? %s", first, again)
	}
	got := p.ask("MEAS:VOLT:DC?;DC?;AC?")
	if parts := strings.Split(got, ";"); len(parts) != 3 || parts[0][:2] != "+5" {
		t.Errorf("three queries on one path (S-11) answered %q", got)
	}
	// 6.5 digits of 10 V resolve 10 uV: five decimals.
	if got := p.ask("MEAS:VOLT?"); len(got) > len("+5.01213E+00") {
		t.Errorf("%q has more digits than 6.5", got)
	}
}

func TestNR3KeepsToItsResolution(t *testing.T) {
	for _, row := range []struct {
		v, resolution float64
		want          string
	}{
		{5.012134, 1e-5, "+5.01213E+00"}, {0.00100213, 1e-7, "+1.0021E-03"},
		{-11.99999, 1e-5, "-1.199999E+01"}, {0, 1e-7, "+0.0E+00"}, {9.999999, 1e-5, "+1.000000E+01"},
	} {
		if got := nr3(row.v, row.resolution); got != row.want {
			t.Errorf("nr3(%g, %g) is %s, want %s (IEEE 488.2, 8.7.4)", row.v, row.resolution, got, row.want)
		}
	}
}

package simbench

import (
	"regexp"
	"testing"
)

func TestSupply(t *testing.T) {
	c := fast(t)
	only(c, "supply").Supply.Feeds = "B8-0147"
	b := start(t, c)
	p, m := open(t, b, "supply"), open(t, b, "meter")
	for _, row := range []struct{ ask, want string }{
		{"OUTP?", "1"}, {"VOLT 5;VOLT?", "+5.000E+00"}, {"SOUR:CURR:LEV:IMM:AMPL 100 MA;:CURR?", "+1.00E-01"},
		{"OUTPUT:STATE OFF;STATE?", "0"}, {"*OPC?", "1"},
	} {
		if got := p.ask(row.ask); got != row.want {
			t.Errorf("%s answered %s, want %s", row.ask, got, row.want)
		}
	}
	if b.units["B8-0147"].reservoir.powered(b.now()) {
		t.Error("the unit is powered with its supply off")
	}
	p.send("OUTP ON")
	// 5 V into 20 ohm wants 0.25 A; the limit of 0.1 A leaves 2 V.
	near(t, "limited volts (Ohm's law)", figure(t, p.ask("MEAS:VOLT?")), 2, 0.02)
	near(t, "limited amperes", figure(t, p.ask("MEAS:CURR?")), 0.1, 0.002)
	near(t, "watts", figure(t, p.ask("MEAS:POW?")), 0.2, 0.005)
	near(t, "the unit's rail is back", figure(t, m.ask("ROUT:CLOS (@101);:MEAS:VOLT?")), 5.017, 0.003)
	cause(t, b, "supply stuck on")
	p.send("OUTP OFF")
	if got := p.ask("OUTP?"); got != "1" {
		t.Errorf("a stuck output answers %s", got)
	}
	cause(t, b, "supply stuck off")
	for send, want := range map[string]string{"VOLT 31": "-222", "OUTP MAYBE": "-224", "OUTP": "-109"} {
		p.send(send)
		if got := p.errors(); got != want {
			t.Errorf("%s left %q, want %s", send, got, want)
		}
	}
}

func TestTalker(t *testing.T) {
	c := fast(t)
	reservoir := only(c, "thermometer")
	pattern := regexp.MustCompile(`^2[01]\.\d\d C\r\n$`)
	b := start(t, c)
	p := open(t, b, reservoir.Name)
	p.send("*IDN?") // ignored
	for range 5 {
		if line, err := p.read(patience); err != nil || !pattern.MatchString(line) {
			t.Errorf("it said %q, %v", line, err)
		}
	}
}

func TestTalkerOfAReservoir(t *testing.T) {
	c := fast(t)
	k := only(c, "thermometer")
	k.Wiring[0].TestPoint = "reservoir"
	k.Talker.Prefix, k.Talker.Suffix, k.Talker.NoiseRMS = "RES ", " V", 0.01
	b := start(t, c)
	p := open(t, b, k.Name)
	pattern := regexp.MustCompile(`^RES 1[12]\.\d\d V\r\n$`)
	if line, err := p.read(patience); err != nil || !pattern.MatchString(line) {
		t.Errorf("it said %q, %v", line, err)
	}
}

// A unit whose supply is off at the start holds no charge.
func TestSupplyThatIsOffAtTheStart(t *testing.T) {
	c := fast(t)
	s := only(c, "supply").Supply
	s.Feeds, s.OutputOn = "B8-0147", false
	b := start(t, c)
	m := open(t, b, "meter")
	if b.Powered("B8-0147") || b.Powered("nobody") {
		t.Error("a unit is powered by a supply that is off")
	}
	near(t, "its reservoir", figure(t, m.ask("ROUT:CLOS (@102);:MEAS:VOLT?")), 0, 1e-3)
}

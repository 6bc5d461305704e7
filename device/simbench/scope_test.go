package simbench

import (
	"encoding/binary"
	"io"
	"math"
	"slices"
	"strconv"
	"strings"
	"testing"
	"time"
)

// block asks for a record and reads the definite-length block that answers.
func (p *peer) block(query string) []byte {
	p.t.Helper()
	p.send(query)
	if err := p.line.SetReadDeadline(time.Now().Add(patience)); err != nil {
		p.t.Fatal(err)
	}
	head := make([]byte, 2)
	if _, err := io.ReadFull(p.in, head); err != nil || head[0] != '#' {
		p.t.Fatalf("the block begins with %q, %v", head, err)
	}
	digits := make([]byte, head[1]-'0')
	if _, err := io.ReadFull(p.in, digits); err != nil {
		p.t.Fatal(err)
	}
	n, err := strconv.Atoi(string(digits))
	if err != nil {
		p.t.Fatal(err)
	}
	data := make([]byte, n+1)
	if _, err := io.ReadFull(p.in, data); err != nil || data[n] != '\n' {
		p.t.Fatalf("the block of %d bytes does not end with a line end: %v", n, err)
	}
	return data[:n]
}

// armed sets the scope up for two lines of the demonstration's video and takes
// one record.
func armed(t testing.TB, c Config, setup string) *peer {
	p := open(t, start(t, c), "scope")
	p.send("*RST;CHAN1:SCAL 0.2;OFFS 0.3;:SWE:TIME 200US;POIN 10000;:TRIG:LEV -0.2;SLOP NEG" + setup)
	if got := p.ask("SING;*OPC?"); got != "1" {
		t.Fatalf("*OPC? answered %q", got)
	}
	if got := p.ask("ACQ:STAT?"); got != "STOP" {
		t.Errorf("after a single record the state is %s", got)
	}
	return p
}

func (p *peer) figure(header string) float64 {
	p.t.Helper()
	return figure(p.t, p.ask(header))
}

// volts reads the preamble one by one and turns codes into volts.
func (p *peer) volts(codes []float64) sampled {
	inc, origin, reference := p.figure("REC:YINC?"), p.figure("REC:YOR?"), p.figure("REC:YREF?")
	s := sampled{v: make([]float64, len(codes)), from: p.figure("REC:XOR?"), dt: p.figure("REC:XINC?")}
	for i, code := range codes {
		s.v[i] = (code-reference)*inc + origin
	}
	return s
}

func TestScopeRecordInEveryFormat(t *testing.T) {
	p := armed(t, fast(t), "")
	widen := func(data []byte, signed bool) []float64 {
		out := make([]float64, len(data))
		for i, b := range data {
			out[i] = float64(b)
			if signed {
				out[i] = float64(int8(b))
			}
		}
		return out
	}
	words := func(data []byte, order binary.ByteOrder) []float64 {
		out := make([]float64, len(data)/2)
		for i := range out {
			out[i] = float64(order.Uint16(data[2*i:]))
		}
		return out
	}
	plain := p.volts(widen(p.block("REC:FORM BYTE;DATA?"), false))
	if len(plain.v) != 10000 || math.Abs(plain.dt-20e-9) > 1e-15 || math.Abs(plain.from+20e-6) > 1e-12 {
		t.Fatalf("%d points of %g s from %g s", len(plain.v), plain.dt, plain.from)
	}
	p.send("REC:SIGN ON")
	others := map[string]sampled{"signed": p.volts(widen(p.block("REC:DATA?"), true))}
	p.send("REC:SIGN OFF;FORM WORD")
	others["words"] = p.volts(words(p.block("REC:DATA?"), binary.BigEndian))
	others["swapped"] = p.volts(words(p.block("REC:BORD SWAP;DATA?"), binary.LittleEndian))
	p.send("REC:FORM ASC")
	var ascii []float64
	for text := range strings.SplitSeq(p.ask("REC:DATA?"), ",") {
		ascii = append(ascii, figure(t, text))
	}
	others["ascii"] = p.volts(ascii)
	for name, s := range others {
		if len(s.v) != len(plain.v) {
			t.Errorf("%s: %d points", name, len(s.v))
			continue
		}
		for i := range s.v {
			if math.Abs(s.v[i]-plain.v[i]) > 1e-6 {
				t.Errorf("%s: point %d is %g V, as bytes %g V", name, i, s.v[i], plain.v[i])
				break
			}
		}
	}
	if got := strings.Count(p.ask("REC:PRE?"), ","); got != 5 {
		t.Errorf("the preamble has %d commas", got)
	}
	if got := p.errors(); got != "" {
		t.Errorf("errors %s", got)
	}
	checkDemoLine(t, plain)
}

// checkDemoLine measures the demonstration's 625/50 signal in a scope record.
func checkDemoLine(t *testing.T, s sampled) {
	t.Helper()
	// The trigger is a falling passage through -0.2 V, which no colour of the picture reaches,
	// at time 0.
	at := falling(s, -0.5e-6, -0.2)
	near(t, "the trigger's time us", at*1e6, 0, 0.05)
	tip := s.part(1e-6, 2e-6).mean()
	near(t, "the lowest level V (V-02 with gain 0.99, offset 12 mV)", tip, 0.012-0.3*0.99, 0.012)
}

func TestScopeTriggersOnBothSides(t *testing.T) {
	p := armed(t, fast(t), ";SLOP POS;:SWE:POS 0.5")
	s := p.bytes("REC:DATA?")
	near(t, "a rising passage, us", rising(s.part(-1e-6, 1e-6), -0.2)*1e6, 1, 0.1)
	if s.from != -100e-6 {
		t.Errorf("the record begins at %g s", s.from)
	}
}

// bytes reads a record of bytes in volts.
func (p *peer) bytes(query string) sampled {
	data := p.block(query)
	codes := make([]float64, len(data))
	for i, b := range data {
		codes[i] = float64(b)
	}
	return p.volts(codes)
}

func TestScopeRunsOnOrHolds(t *testing.T) {
	p := armed(t, fast(t), "")
	if !slices.Equal(p.block("REC:DATA?"), p.block("REC:DATA?")) {
		t.Error("a single record changed between two questions")
	}
	p.send("RUN")
	if slices.Equal(p.block("REC:DATA?"), p.block("REC:DATA?")) {
		t.Error("a running scope answered the same noise twice")
	}
	if got := p.ask("ACQ:STAT?"); got != "RUN" {
		t.Errorf("it stands at %s", got)
	}
}

func TestScopeNormalSweepWaits(t *testing.T) {
	p := armed(t, fast(t), "")
	p.send("TRIG:LEV 90;SWE NORM;:SING")
	if got := p.ask("ACQ:STAT?"); got != "WAIT" {
		t.Errorf("without a trigger the state is %s", got)
	}
	p.send("*OPC?")
	if got := p.ask("SYST:ERR?"); got != `-410,"Query INTERRUPTED"` {
		t.Errorf("a message during *OPC? left %s", got)
	}
	p.send("TRIG:FORC")
	if got := p.ask("*OPC?"); got != "1" {
		t.Errorf("forced, *OPC? answered %s", got)
	}
	p.send("TRIG:FORC")
	if got := p.errors(); got != "-211" {
		t.Errorf("forcing what is not armed left %q", got)
	}
	p.send("TRIG:SWE AUTO;:SING")
	if got := p.ask("*OPC?"); got != "1" {
		t.Errorf("an automatic sweep answered %s", got)
	}
	p.send("STOP;*RST;:STOP;:REC:DATA?")
	if got := p.errors(); got != "-230" {
		t.Errorf("a record that is not there left %q", got)
	}
}

func TestScopeSettings(t *testing.T) {
	p := open(t, start(t, fast(t)), "scope")
	for _, row := range []struct{ ask, want string }{
		{"CHANNEL2:SCALE 50MV;SCALE?", "+5.000000E-02"}, {"CHAN2:PROB 10;PROB?", "+1.000000E+01"},
		{"CHAN:COUP AC;COUP?", "AC"}, {"SWE:POIN 1E5;POIN?", "100000"}, {"SWE:TIME 1MS;TINT?", "1.000000000E-08"},
		{"TRIG:SOUR NONE;SOUR?", "NONE"}, {"TRIG:SOUR CHAN2;SOUR?", "CHAN2"}, {"REC:SOUR CHAN2;SOUR?", "CHAN2"},
		{"REC:FORM WORD;FORM?;BORD?;SIGN?", "WORD;NORM;0"}, {"TRIG:SLOP?;SWE?", "POS;AUTO"},
	} {
		if got := p.ask(row.ask); got != row.want {
			t.Errorf("%s answered %s, want %s", row.ask, got, row.want)
		}
	}
	for send, want := range map[string]string{
		"CHAN9:SCAL 1": "-114", "SWE:POIN 2499": "-222", "SWE:POIN 100001": "-222", "TRIG:SOUR CHAN9": "-224",
		"REC:SOUR NONE": "-224", "REC:FORM LONG": "-224", "MEAS:VOLT:PTP? (@9)": "-222", "CHAN1:COUP": "-109",
	} {
		p.send(send)
		if got := p.errors(); got != want {
			t.Errorf("%s left %q, want %s", send, got, want)
		}
	}
}

// meanOfWhiteField is V-83's white line with gain 0.99 and 12 mV of offset, less
// what 25 blank lines of 312 (mean -22 mV) take away.
const meanOfWhiteField = 0.012 + 0.99*(0.5462*(312-25)+(-0.022)*25)/312

func TestScopeMeasures(t *testing.T) {
	c := fast(t)
	c.Units[0].Composite.Picture = "white"
	p := armed(t, c, "")
	p.send("RUN;:CHAN1:SCAL 0.2")
	for _, row := range []struct {
		ask          string
		want, within float64
	}{
		{"MEAS:VOLT:PTP? (@1)", 0.99, 0.05}, {"MEAS:VOLT:MIN? (@1)", 0.012 - 0.297, 0.03},
		{"MEAS:VOLT:MAX? (@1)", 0.012 + 0.693, 0.03}, {"MEAS:VOLT:PER? (@1)", 64e-6, 0.1e-6},
		{"MEAS:VOLT:FREQ? (@1)", 15625, 20},
	} {
		// A record may fall into the vertical interval: look again.
		waitFor(t, row.ask+" to be as expected", func() bool {
			return math.Abs(figure(t, p.ask(row.ask))-row.want) <= row.within
		})
	}
	p.send("CHAN1:COUP AC")
	waitFor(t, "a lower white with the mean removed", func() bool {
		return math.Abs(figure(t, p.ask("MEAS:VOLT:MAX? (@1)"))-(0.705-meanOfWhiteField)) < 0.04
	})
	p.send("CHAN1:COUP DC;PROB 10")
	near(t, "a wrong probe factor shows ten times", figure(t, p.ask("MEAS:VOLT:MIN? (@1)")), -0.7, 0.01) // range's end
}

func TestScopeClipsAtItsRange(t *testing.T) {
	p := armed(t, fast(t), ";:CHAN1:SCAL 0.05;OFFS 0")
	waitFor(t, "a record with picture in it", func() bool {
		p.ask("SING;*OPC?")
		data := p.block("REC:DATA?")
		return slices.Min(data) == 0 && slices.Max(data) == 255
	})
}

func TestScopeAndMeterAgree(t *testing.T) {
	c := fast(t)
	s := only(c, "scope")
	s.Scope.Bits = 14
	s.Wiring[0].TestPoint = "reservoir"
	c.Units[0].Faults = []FaultConfig{{Name: "half-wave"}}
	b := start(t, c)
	scope, meter := open(t, b, "scope"), open(t, b, "meter")
	scope.send("CHAN1:SCAL 2;OFFS 10;:SWE:TIME 0.1;POIN 20000;POS 0;:TRIG:SOUR NONE")
	waitFor(t, "half wave", func() bool { return figure(t, meter.ask("ROUT:CLOS (@102);:MEAS:FREQ?")) < 51 })
	near(t, "the scope's period s (W-20: half wave, the mains frequency)", figure(t, scope.ask("MEAS:VOLT:PER? (@1)")), 0.02, 1e-4)
	volts := figure(t, meter.ask("VOLT:NPLC 5;:MEAS:VOLT?"))
	near(t, "mean volts", figure(t, scope.ask("MEAS:VOLT:DC? (@1)")), volts, 0.01)
	// RMS of the alternating part, from both.
	near(t, "ripple rms", figure(t, scope.ask("MEAS:VOLT:AC? (@1)")), figure(t, meter.ask("MEAS:VOLT:AC?")), 0.01)
}

package simbench

import (
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"
)

// cause turns a fault on.
func cause(t testing.TB, b *Bench, line string) {
	t.Helper()
	words := strings.Fields(line)
	if err := b.Fault(words[0], words[1], words[2:]...); err != nil {
		t.Fatal(err)
	}
}

// silent checks that nothing comes for a while.
func (p *peer) silent(why string) {
	p.t.Helper()
	if got, err := p.read(60 * time.Millisecond); err == nil || got != "" {
		p.t.Errorf("%s: got %q, %v", why, got, err)
	}
}

func TestSilence(t *testing.T) {
	b := start(t, fast(t))
	p := open(t, b, "meter")
	cause(t, b, "meter silence 2")
	p.send("*IDN?")
	p.send("*IDN?")
	p.silent("two questions in silence")
	p.ask("*IDN?")
	cause(t, b, "meter silence on")
	p.send("*IDN?")
	p.silent("silence until further notice")
	cause(t, b, "meter silence off")
	p.ask("*IDN?")
	cause(t, b, "meter silence 30ms")
	began := time.Now()
	waitFor(t, "the end of silence", func() bool {
		p.send("*IDN?")
		_, err := p.read(20 * time.Millisecond)
		return err == nil
	})
	if took := time.Since(began); took < 25*time.Millisecond {
		t.Errorf("a silence of 30 ms ended after %v", took)
	}
}

func TestSlow(t *testing.T) {
	b := start(t, fast(t))
	p := open(t, b, "meter")
	cause(t, b, "meter slow 50")
	began := time.Now()
	p.ask("MEAS:VOLT?")
	if took := time.Since(began); took < 50*time.Millisecond {
		t.Errorf("1 ms times 50 took %v", took)
	}
}

func TestLateAnswerBelongsToTheQuestionBefore(t *testing.T) {
	b := start(t, fast(t))
	p := open(t, b, "meter")
	cause(t, b, "meter late")
	p.send("*IDN?")
	p.silent("the held back answer")
	if got := p.ask("*ESE?"); !strings.HasPrefix(got, "Saltmarsh") {
		t.Errorf("the second question got %q", got)
	}
	if got, err := p.read(patience); got != "0\n" || err != nil {
		t.Errorf("its own answer follows: %q, %v", got, err)
	}
}

func TestDuplicateAndHalfLine(t *testing.T) {
	b := start(t, fast(t))
	p := open(t, b, "meter")
	cause(t, b, "meter duplicate")
	first := p.ask("*IDN?")
	if again, err := p.read(patience); strings.TrimSpace(again) != first || err != nil {
		t.Errorf("the copy is %q, %v", again, err)
	}
	cause(t, b, "meter half-line")
	p.send("*IDN?")
	half, err := p.read(60 * time.Millisecond)
	if err == nil || half != first[:len(first)/2] {
		t.Errorf("half a line is %q, %v", half, err)
	}
}

func TestGarbageAndWrongSpeed(t *testing.T) {
	b := start(t, fast(t))
	p := open(t, b, "meter")
	cause(t, b, "meter garbage")
	if got := p.ask("*IDN?"); got == "" || strings.Contains(got, "Saltmarsh") {
		t.Errorf("garbage is %q", got)
	}
	cause(t, b, "meter wrong-speed on")
	p.send("*IDN?")
	if got, err := p.read(60 * time.Millisecond); err == nil || got == "" {
		t.Errorf("at the wrong speed came %q, %v", got, err)
	}
	cause(t, b, "meter clear")
	if got := p.errors(); got != "-362" {
		t.Errorf("the error queue holds %q, want a framing error (S-78)", got)
	}
}

func TestOverflowAndErrorEntries(t *testing.T) {
	b := start(t, fast(t))
	p := open(t, b, "meter")
	for kind, want := range map[string]string{"": "9.9E37", "plus": "9.9E37", "minus": "-9.9E37", "nan": "9.91E37"} {
		cause(t, b, "meter overflow "+kind)
		if got := p.ask("MEAS:VOLT?"); got != want {
			t.Errorf("overflow %s answered %s, want %s (S-32 to S-34)", kind, got, want)
		}
		if got := p.ask("MEAS:VOLT?"); !strings.HasPrefix(got, "+5.0") {
			t.Errorf("after one overflow it answered %s", got)
		}
	}
	cause(t, b, "meter overflow 1")
	if got := p.ask("*IDN?"); strings.Contains(got, "E37") {
		t.Errorf("an identity overflowed: %s", got)
	}
	cause(t, b, "meter clear")
	if err := b.Fault("meter", "error", "42", `a "maker's" own`); err != nil {
		t.Fatal(err)
	}
	cause(t, b, "meter error -231")
	if got := p.ask("SYST:ERR?"); got != `42,"a maker's own"` {
		t.Errorf("the entry is %s", got)
	}
	if got := p.ask("SYST:ERR?"); !strings.HasPrefix(got, "-231,") {
		t.Errorf("the second entry is %s", got)
	}
}

func TestPowerCycleInTheMiddleOfAnAnswer(t *testing.T) {
	b := start(t, fast(t))
	p := open(t, b, "meter")
	p.ask("*ESR?")
	cause(t, b, "meter power-cycle 40ms")
	p.send("*IDN?")
	if got, err := p.read(30 * time.Millisecond); err == nil || got == "" || !strings.HasPrefix("Saltmarsh,M6,S60017,1.4", got) {
		t.Errorf("the broken answer is %q, %v", got, err)
	}
	waitFor(t, "the meter to start", func() bool {
		p.send("*ESR?")
		got, _ := p.read(20 * time.Millisecond)
		return got == "128\n"
	})
}

func TestUnplugAndReturn(t *testing.T) {
	if !ptySupported {
		t.Skip("this system has no pseudo-terminals; TestTheSameOverTCP pulls the other kind of plug")
	}
	c := fast(t)
	b := start(t, c)
	here := b.Ports()["meter"]
	elsewhere := filepath.Join(filepath.Dir(here), "meter-again")
	for _, next := range []string{"", elsewhere} {
		p := open(t, b, "meter")
		p.ask("*IDN?")
		cause(t, b, "meter unplug 60ms "+next)
		if _, err := p.read(patience); err == nil {
			t.Error("the pulled port still reads")
		}
		if _, err := os.Lstat(here); err == nil {
			t.Error("the name is still there (S-P30)")
		}
		if err := b.Fault("meter", "unplug", "1s"); err == nil {
			t.Error("it was pulled twice")
		}
		waitFor(t, "the meter's return", func() bool { return b.Ports()["meter"] != "" })
	}
	if got := b.Ports()["meter"]; got != elsewhere {
		t.Errorf("it is back at %s", got)
	}
	if got := open(t, b, "meter").ask("*IDN?"); !strings.HasPrefix(got, "Saltmarsh,M6") {
		t.Errorf("back again it answers %q", got)
	}
}

func TestTalkerFaults(t *testing.T) {
	b := start(t, fast(t))
	p := open(t, b, "thermometer")
	for _, row := range []struct {
		fault string
		seen  func(string) bool
	}{
		{"garbage", func(s string) bool { return !strings.Contains(s, " C") }},
		{"half-line", func(s string) bool { return len(s) > len("21.00 C\r\n") }},
		{"overflow", func(s string) bool { return s == "9.9E37 C\r\n" }},
	} {
		cause(t, b, "thermometer "+row.fault)
		waitFor(t, row.fault, func() bool {
			line, err := p.read(patience)
			return err == nil && row.seen(line)
		})
	}
	cause(t, b, "thermometer silence on")
	waitFor(t, "silence", func() bool {
		_, err := p.read(50 * time.Millisecond)
		return err != nil
	})
	cause(t, b, "thermometer clear")
	if _, err := p.read(patience); err != nil {
		t.Errorf("after silence: %v", err)
	}
	cause(t, b, "thermometer slow 20 on")
	waitFor(t, "gaps between lines", func() bool {
		_, err := p.read(50 * time.Millisecond)
		return err != nil
	})
}

func TestScheduledFaults(t *testing.T) {
	c := fast(t)
	only(c, "supply").Faults = []FaultConfig{{AfterS: 0.03, Name: "overflow", Args: []string{"on"}}}
	c.Units[0].Faults = []FaultConfig{{AfterS: 0.01, Name: "step", Args: []string{"rail-5v", "-1"}}}
	b := start(t, c)
	meter, supply := open(t, b, "meter"), open(t, b, "supply")
	waitFor(t, "the step", func() bool { return strings.HasPrefix(meter.ask("MEAS:VOLT?"), "+4.0") })
	waitFor(t, "the overflow", func() bool { return supply.ask("MEAS:VOLT?") == "9.9E37" })
	c = fast(t)
	only(c, "meter").Faults = []FaultConfig{{Name: "nonsense"}}
	wrong, err := New(c)
	if err != nil {
		t.Fatal(err)
	}
	if err := wrong.Run(t.Context()); err == nil || !strings.Contains(err.Error(), "fault nonsense of meter") {
		t.Errorf("a scheduled fault that does not exist: %v", err)
	}
}

func TestFaultsThatCannotBe(t *testing.T) {
	b, err := New(fast(t))
	if err != nil {
		t.Fatal(err)
	}
	for _, line := range []string{
		"nobody silence", "meter nonsense", "meter silence sometimes", "meter silence 0", "meter silence -2s",
		"meter silence 1 2", "meter slow", "meter slow fast", "meter slow 0", "meter overflow sideways",
		"meter error", "meter error none", "meter unplug", "meter unplug soon", "meter unplug 1s 10.0.0.1:5025",
		"meter power-cycle never", "B8-0147 drift", "B8-0147 drift rail-5v", "B8-0147 drift rail-5v NaN",
		"B8-0147 drift rail-9v 1", "B8-0147 glow rail-5v 1", "B8-0147 power maybe", "B8-0147 power on",
		"B8-0147 clip 10 1s", "B8-0147 clip 10", "B8-0147 wear 0 1", "B8-0147 wear 0.001", "B8-0147 picture composite sunset", "B8-0147 picture composite",
		"B8-0147 load composite -75", "B8-0147 load composite", "B8-0147 ring composite 5e6", "B8-0147 ring composite 1 1",
		"B8-0147 hot composite 1e6", "B8-0147 glow composite 1", "B8-0147 glow audio-left 1", "B8-0147 hum audio-left x",
	} {
		words := strings.Fields(line)
		if err := b.Fault(words[0], words[1], words[2:]...); err == nil {
			t.Errorf("%q was accepted", line)
		} else if strings.Contains(err.Error(), "\n\n") {
			t.Errorf("%q gives %v", line, err)
		}
	}
}

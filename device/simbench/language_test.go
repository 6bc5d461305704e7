package simbench

import (
	"strings"
	"testing"
)

func TestErrorQueueTellsWhatWasWrong(t *testing.T) {
	b := start(t, fast(t))
	p := open(t, b, "meter")
	for _, row := range []struct{ send, want, source string }{
		{"MEASU:VOLT?", "-113", "S-15: only the long or the short form"},
		{"MEAS:VOLT", "-113", "a query without its mark"},
		{"NONSENSE", "-113", "SCPI-1999 21.8.4"},
		{"*XYZ?", "-113", "SCPI-1999 21.8.4"},
		{"MEAS:ABCDEFGHIJKLMNO?", "-112", "S-17: 12 characters"},
		{"ME\x80AS?", "-101", "SCPI-1999 21.8.4"},
		{"MEAS::VOLT?", "-102", "SCPI-1999 21.8.4"},
		{"ROUT:CLOS", "-109", "missing parameter"},
		{"ROUT:CLOS (@101),1", "-108", "one too many"},
		{"ROUT:CLOS 101", "-171", "no channel list"},
		{"ROUT:CLOS (@999)", "-222", "not wired"},
		{"VOLT:NPLC 1e9", "-222", "out of range"},
		{"VOLT:NPLC 1.2.3", "-121", "invalid character in number"},
		{"VOLT:NPLC 1e99999", "-123", "exponent too large"},
		{"VOLT:NPLC banana", "-104", "data type"},
		{"VOLT:NPLC 1 V", "-131", "suffix"},
		{"MEAS:VOLT? 10,1,1", "-108", "one too many"},
		{"CONF:VOLT;RES 1;:NONSENSE;*ESR?", "-113", "S-11: RES continues at CONF; what follows an error is left"},
		{"CONF:VOLT 10 MV", "", "S-20: M is milli"},
		{"CONF:RES 1 MOHM", "", "S-20: MOHM is mega"},
		{"CONF:RES 1 XOHM", "-131", "S-20: no such multiplier"},
		{"CONF:VOLT MAX", "", "numeric words"},
		{" \t*CLS \t", "", "S-13: white space"},
		{";;*CLS;", "", "empty message units"},
	} {
		p.send(row.send)
		if got := p.errors(); got != row.want {
			t.Errorf("%q left %q, want %q (%s)", row.send, got, row.want, row.source)
		}
	}
}

func TestErrorQueueOverflows(t *testing.T) {
	b := start(t, fast(t))
	p := open(t, b, "meter")
	for range queueLength + 5 {
		p.send("NONSENSE")
	}
	if got := p.ask("*STB?"); got != "4" {
		t.Errorf("*STB? answered %s with errors queued (S-05)", got)
	}
	want := strings.Repeat("-113 ", queueLength-1) + "-350"
	if got := p.errors(); got != want {
		t.Errorf("got %s, want %s (SCPI-1999 21.8.2: the newest becomes -350)", got, want)
	}
	if got := p.ask("*ESR?"); got != "168" { // power on, command error, device error
		t.Errorf("*ESR? answered %s, want 168 (S-04)", got)
	}
	p.send("NONSENSE;*CLS")
	p.send("*CLS")
	if got := p.ask("SYSTem:ERRor:NEXT?"); got != `0,"No error"` {
		t.Errorf("after *CLS the queue answered %q (S-07)", got)
	}
}

func TestStatusRegisters(t *testing.T) {
	b := start(t, fast(t))
	p := open(t, b, "meter")
	p.ask("*ESR?")
	for _, row := range []struct{ ask, want string }{
		{"*ESE 1;*SRE 32;*OPC;*STB?", "96"}, {"*ESE?;*SRE?", "1;32"}, {"*ESR?", "1"}, {"*STB?", "0"},
	} {
		if got := p.ask(row.ask); got != row.want {
			t.Errorf("%s answered %s, want %s (IEEE 488.2 clause 11)", row.ask, got, row.want)
		}
	}
}

func TestInterruptedQuery(t *testing.T) {
	c := fast(t)
	m := only(c, "meter")
	m.Interrupts = true
	m.Meter.IntegrationS = 60
	b := start(t, c)
	p := open(t, b, "meter")
	p.send("MEAS:VOLT?")
	if got := p.ask("SYST:ERR?"); got != `-410,"Query INTERRUPTED"` {
		t.Errorf("got %q (SCPI-1999 21.8.7)", got)
	}
}

func TestInputBufferOverrun(t *testing.T) {
	b := start(t, fast(t))
	p := open(t, b, "meter")
	p.send(strings.Repeat("x", longestMessage+10))
	if got := p.errors(); got != "-363" {
		t.Errorf("got %q", got)
	}
}

// FuzzMessage: whatever comes, a meter answers one line or none and can still be
// asked.
func FuzzMessage(f *testing.F) {
	for _, s := range []string{"*IDN?", "MEAS:VOLT?;:ROUT:CLOS (@101:102)", "CONF:VOLT 1e", "ROUT:CLOS (@", ":;,?", "VOLT:NPLC #H1F", "CONF:VOLT 10 MV", `a "b;c"`} {
		f.Add(s)
	}
	c := DemoConfig(f.TempDir())
	only(c, "meter").Meter.IntegrationS = 0
	b, err := New(c)
	if err != nil {
		f.Fatal(err)
	}
	in := b.instruments["meter"]
	f.Fuzz(func(t *testing.T, text string) {
		if strings.ContainsAny(text, "\r\n") {
			return
		}
		in.machine.reset()
		if got := in.handle(t.Context(), message{text: text}); strings.ContainsAny(string(got), "\r\n") {
			t.Errorf("%q answered %q", text, got)
		}
		for len(in.queue) > 0 {
			if e := in.status.next(); strings.Count(e, `"`) != 2 {
				t.Errorf("%q left %s", text, e)
			}
		}
	})
}

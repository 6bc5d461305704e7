package device

import (
	"errors"
	"math"
	"strings"
	"testing"
	"time"
)

// goodSet is a set without a mistake, for tests to spoil.
func goodSet() CommandSet {
	return CommandSet{
		Name: "meter",
		Line: LineSettings{Baud: 9600, DataBits: 8, Parity: "none", StopBits: "1", Flow: "none", SendEnding: "lf"},
		Asks: []Ask{{Measure: DCVoltage, Send: "MEASure:VOLTage:DC?"}},
	}
}

func goodListen() *Listen {
	return &Listen{Pattern: `(?P<value>\S+)`, Measure: DCVoltage, SilentAfter: time.Second}
}

func goodCapture() *CaptureAsk {
	return &CaptureAsk{
		Data: "DATA?", Encoding: "uint8",
		Preamble: []PreambleAsk{{Gives: "x-increment", Send: "X?"}, {Gives: "y-increment", Send: "Y?"}},
	}
}

// wantPaths checks that an error is made of exactly these paths.
func wantPaths(t *testing.T, err error, want ...string) {
	t.Helper()
	var got []string
	if joined, ok := err.(interface{ Unwrap() []error }); ok {
		for _, e := range joined.Unwrap() {
			at, ok := errors.AsType[*PathError](e)
			if !ok {
				t.Errorf("%v has no path", e)
				continue
			}
			if at.KeyPath() != at.Path || !strings.HasPrefix(at.Error(), at.Path+": ") {
				t.Errorf("%v does not begin with its path", at)
			}
			got = append(got, at.Path)
		}
	}
	if strings.Join(got, " ") != strings.Join(want, " ") {
		t.Errorf("paths %q, want %q (%v)", got, want, err)
	}
}

func TestCommandSetWithoutAMistake(t *testing.T) {
	c := goodSet()
	c.Listen, c.Capture = goodListen(), goodCapture()
	c.Output = &OutputSwitch{On: "OUTPut ON", Off: "OUTPut OFF"}
	c.Capture.LowCode, c.Capture.HighCode = 0, 255 // the very ends of 8 bits
	c.Asks[0].ScalePower = -30                     // quecto, the smallest SI prefix (SI Brochure 9th ed., table 7)
	wantPaths(t, c.Validate())
}

func TestCommandSetMistakes(t *testing.T) {
	rows := []struct {
		name  string
		spoil func(*CommandSet)
		want  []string
	}{
		{"no name", func(c *CommandSet) { c.Name = "" }, []string{"name"}},
		{"nothing to do", func(c *CommandSet) { c.Asks = nil }, []string{"asks"}},
		{"unknown measure", func(c *CommandSet) { c.Asks[0].Measure = "volts" }, []string{"asks[0].measure"}},
		{"two questions", func(c *CommandSet) { c.Asks = append(c.Asks, c.Asks[0]) }, []string{"asks[1].measure"}},
		{"blank question", func(c *CommandSet) { c.Asks[0].Send = " " }, []string{"asks[0].send"}},
		{"line end in a question", func(c *CommandSet) { c.Asks[0].Send = "A?\r\n" }, []string{"asks[0].send"}},
		{"unknown placeholder", func(c *CommandSet) { c.Select = "ROUT {chan}" }, []string{"select.send"}},
		{"negative field", func(c *CommandSet) { c.Asks[0].Field = -1 }, []string{"asks[0].field"}},
		{"beyond the prefixes", func(c *CommandSet) { c.Asks[0].ScalePower = 31 }, []string{"asks[0].scale_power"}},
		{"negative timeout", func(c *CommandSet) { c.Asks[0].Timeout = -1 }, []string{"asks[0].timeout"}},
		{"negative times", func(c *CommandSet) { c.SelectSettle, c.ErrorCheck.Every = -1, -1 }, []string{"select.settle", "error_check.every"}},
		{"blank in prepare", func(c *CommandSet) { c.Prepare = []string{"*CLS", ""} }, []string{"prepare[1]"}},
		{"blank in release", func(c *CommandSet) { c.Release = []string{""} }, []string{"release[0]"}},
		{"pattern without question", func(c *CommandSet) { c.IdentifyPattern = "x" }, []string{"identify.pattern"}},
		{"broken pattern", func(c *CommandSet) { c.Identify, c.IdentifyPattern = "*IDN?", "(" }, []string{"identify.pattern"}},
		{"output half switched", func(c *CommandSet) { c.Output = &OutputSwitch{On: "ON"} }, []string{"output.off"}},
		{"line", func(c *CommandSet) { c.Line = LineSettings{DataBits: 9} },
			[]string{"line.baud", "line.data_bits", "line.parity", "line.stop_bits", "line.flow", "line.ending"}},
		{"accuracy not finite", func(c *CommandSet) {
			c.Asks[0].Accuracy = Accuracy{PercentOfReading: math.NaN(), PercentOfRange: -1, Range: math.Inf(1), Resolution: -1}
		}, []string{"asks[0].accuracy.of_reading_pct", "asks[0].accuracy.of_range_pct", "asks[0].accuracy.range_v", "asks[0].accuracy.resolution_v"}},
		{"range missing", func(c *CommandSet) { c.Asks[0].Accuracy.PercentOfRange = 1 }, []string{"asks[0].accuracy.of_range_pct"}},
	}
	for _, row := range rows {
		t.Run(row.name, func(t *testing.T) {
			c := goodSet()
			row.spoil(&c)
			wantPaths(t, c.Validate(), row.want...)
		})
	}
}

func TestListenMistakes(t *testing.T) {
	rows := []struct {
		name  string
		spoil func(*Listen)
		want  []string
	}{
		{"no pattern", func(l *Listen) { l.Pattern = "" }, []string{"listen.pattern"}},
		{"no value group", func(l *Listen) { l.Pattern = "V" }, []string{"listen.pattern"}},
		{"unknown measure", func(l *Listen) { l.Measure = "volts" }, []string{"listen.measure"}},
		{"neither measure nor words", func(l *Listen) { l.Measure = "" }, []string{"listen.measure"}},
		{"words alone", func(l *Listen) { l.Measure, l.Words = "", map[string]Measure{"V": DCVoltage} }, nil},
		{"unknown word", func(l *Listen) { l.Words = map[string]Measure{"V": "volts"} }, []string{"listen.words"}},
		{"beyond the prefixes", func(l *Listen) { l.Prefixes = map[string]int{"V": -31} }, []string{"listen.units"}},
		{"no patience", func(l *Listen) { l.SilentAfter = 0 }, []string{"listen.silent_after"}},
	}
	for _, row := range rows {
		t.Run(row.name, func(t *testing.T) {
			c := goodSet()
			c.Listen = goodListen()
			row.spoil(c.Listen)
			wantPaths(t, c.Validate(), row.want...)
		})
	}
}

func TestCaptureMistakes(t *testing.T) {
	rows := []struct {
		name  string
		spoil func(*CaptureAsk)
		want  []string
	}{
		{"no data", func(c *CaptureAsk) { c.Data = "" }, []string{"capture.data"}},
		{"unknown encoding", func(c *CaptureAsk) { c.Encoding = "uint12" }, []string{"capture.encoding"}},
		{"done without answer", func(c *CaptureAsk) { c.Done, c.DoneWithin = "*OPC?", time.Second }, []string{"capture.done.is"}},
		{"done without patience", func(c *CaptureAsk) { c.Done, c.DoneIs = "*OPC?", "1" }, []string{"capture.done.within"}},
		{"no preamble", func(c *CaptureAsk) { c.Preamble = nil }, []string{"capture.preamble", "capture.preamble"}},
		{"volts need no increment", func(c *CaptureAsk) { c.Encoding, c.Preamble = "ascii", c.Preamble[:1] }, nil},
		{"figure twice", func(c *CaptureAsk) { c.Preamble = append(c.Preamble, c.Preamble[0]) }, []string{"capture.preamble[2].gives"}},
		{"unknown figure", func(c *CaptureAsk) { c.Preamble[1].Gives = "y-step" }, []string{"capture.preamble[1].gives", "capture.preamble"}},
		{"unknown coupling", func(c *CaptureAsk) { c.Coupling = "gnd" }, []string{"capture.coupling"}},
		{"coupling twice", func(c *CaptureAsk) { c.Coupling, c.CouplingAsk = "dc", "COUP?" }, []string{"capture.coupling_ask"}},
		{"code below 8 bits", func(c *CaptureAsk) { c.LowCode, c.HighCode = -1, 255 }, []string{"capture.low_code"}},
		{"code above 8 bits", func(c *CaptureAsk) { c.LowCode, c.HighCode = 0, 256 }, []string{"capture.high_code"}},
		{"codes swapped", func(c *CaptureAsk) { c.LowCode, c.HighCode = 255, 0 }, []string{"capture.high_code"}},
	}
	for _, row := range rows {
		t.Run(row.name, func(t *testing.T) {
			c := goodSet()
			c.Capture = goodCapture()
			row.spoil(c.Capture)
			wantPaths(t, c.Validate(), row.want...)
		})
	}
}

func TestNamesThatStandForNothingKnowTheRightOnes(t *testing.T) {
	c := goodSet()
	c.Line.Parity = "evn"
	wrong, ok := errors.AsType[*NameError](c.Validate())
	if !ok {
		t.Fatalf("%v is no NameError", c.Validate())
	}
	name, known := wrong.Candidates()
	if name != "evn" || strings.Join(known, " ") != "none odd even mark space" {
		t.Errorf("candidates of %q: %q", name, known)
	}
}

func TestCommandSetGives(t *testing.T) {
	asked, listening, capturing := goodSet(), CommandSet{Listen: goodListen()}, CommandSet{Capture: goodCapture()}
	listening.Listen.Words = map[string]Measure{"A": DCCurrent}
	rows := []struct {
		set  CommandSet
		m    Measure
		want bool
	}{
		{asked, DCVoltage, true}, {asked, ACVoltage, false}, {asked, PeakToPeak, false},
		{listening, DCVoltage, true}, {listening, DCCurrent, true}, {listening, ACVoltage, false},
		{capturing, Overshoot, true}, {capturing, PeakToPeak, true}, {capturing, DCVoltage, false},
	}
	for _, row := range rows {
		if got := row.set.Gives(row.m); got != row.want {
			t.Errorf("gives %s: %v, want %v", row.m, got, row.want)
		}
	}
}

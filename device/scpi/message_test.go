package scpi

import (
	"errors"
	"strings"
	"testing"
)

func TestValidMessage(t *testing.T) {
	cases := []struct {
		text   string
		ok     bool
		source string
	}{
		{"MEASure:VOLTage:DC?", true, "S-53"},
		{"ROUTe:CLOSe (@101,102)", true, "SCPI-1999, channel list"},
		{"DISP:TEXT \"it's on\"", true, "IEEE 488.2, 7.7.5: one quote inside the other"},
		{`DISP:TEXT 'it''s on'`, true, "IEEE 488.2, 7.7.5: doubled quote"},
		{"CONF:VOLT\t10", true, "S-13"},
		{strings.Repeat("A", 1024), true, "on our limit"},
		{strings.Repeat("A", 1025), false, "beyond our limit"},
		{"", false, "nothing to send"},
		{" \t", false, "nothing to send"},
		{"*RST\n*IDN?", false, "S-12: would be two messages"},
		{"*RST\r", false, "S-70"},
		{"A\x00B", false, "S-13 allows it, a serial line does not bear it"},
		{"A\x13", false, "S-71"},
		{"VOLT 5 µV", false, "IEEE 488.2 is ASCII"},
		{`DISP:TEXT "open`, false, "IEEE 488.2, 7.7.5"},
		{`DISP:TEXT 'open"`, false, "IEEE 488.2, 7.7.5"},
	}
	for _, c := range cases {
		err := ValidMessage(c.text)
		if (err == nil) != c.ok || err != nil && !errors.Is(err, ErrBadMessage) {
			t.Errorf("%.30q (%s): %v", c.text, c.source, err)
		}
	}
}

func TestIsQuery(t *testing.T) {
	for text, want := range map[string]bool{
		"*IDN?": true, "MEAS:VOLT:DC? 10,0.001": true, "CONF:VOLT;:READ?": true, "*RST": false,
		`DISP:TEXT "how much?"`: false, `DISP:TEXT "a;b?"`: false, "": false, " *OPC? ": true, "VOLT 5;": false,
		"*RST;;*OPC?": true,
	} {
		if got := IsQuery(text); got != want {
			t.Errorf("%q: query %v, want %v", text, got, want)
		}
	}
}

// S-11: a header after a semicolon continues the path of the one before, a colon
// begins again at the root, and common commands stand outside.
func TestJoinMessage(t *testing.T) {
	for _, c := range []struct {
		messages []string
		want     string
	}{
		{nil, ""},
		{[]string{"*CLS"}, "*CLS"},
		{[]string{"CONF:VOLT:DC", "READ?"}, "CONF:VOLT:DC;:READ?"},
		{[]string{"MEAS:VOLT?", ":MEAS:CURR?", "*OPC?"}, "MEAS:VOLT?;:MEAS:CURR?;*OPC?"},
	} {
		if got := JoinMessage(c.messages...); got != c.want {
			t.Errorf("%q: %q, want %q", c.messages, got, c.want)
		}
	}
}

// S-14: the examples are those of the manuals read.
func TestShortForm(t *testing.T) {
	for keyword, want := range map[string]string{
		"VOLTage": "VOLT", "FREQuency": "FREQ", "MEASure": "MEAS", "POWer": "POW", "IMMediate": "IMM",
		"FORMat": "FORM", "DELay": "DEL", "DATA": "DATA", "DC": "DC", "": "", "RISE": "RISE",
	} {
		if got := ShortForm(keyword); got != want {
			t.Errorf("%s: %s, want %s", keyword, got, want)
		}
	}
}

func TestMatches(t *testing.T) {
	const voltage, output, errorQueue = "MEASure[:SCALar]:VOLTage[:DC]?", "OUTPut2[:STATe]", "SYSTem:ERRor[:NEXT]?"
	cases := []struct {
		pattern, header string
		want            bool
		source          string
	}{
		{voltage, "MEASURE:SCALAR:VOLTAGE:DC?", true, "S-15, long"},
		{voltage, "meas:volt?", true, "S-15, short, optional ones left out"},
		{voltage, ":Meas:Voltage:dc?", true, "S-11, colon at the root"},
		{voltage, "MEASU:VOLT?", false, "S-15, between the forms"},
		{voltage, "MEA:VOLT?", false, "S-15, shorter than short"},
		{voltage, "MEAS:VOLT", false, "not a query"},
		{voltage, "MEAS:VOLT:AC?", false, "another function"},
		{voltage, "MEAS?", false, "a keyword missing"},
		{voltage, "?", false, "nothing"},
		{voltage, "", false, "nothing"},
		{output, "OUTP2", true, "S-16"},
		{output, "OUTP", false, "S-16, none is 1"},
		{"OUTPut", "OUTP1", true, "S-16, none is 1"},
		{"OUTPut", "OUTP0", false, "S-16"},
		{"[:SENSe]:DATA?", "DATA?", true, "S-49"},
		{"[:SENSe]:DATA?", "SENS:DATA?", true, "S-49"},
		{errorQueue, "SYST:ERR?", true, "SCPI-1999, vol. 2, 21.8"},
		{errorQueue, "SYST:ERR:NEXT?", true, "SCPI-1999, vol. 2, 21.8"},
		{"[SOURce:]VOLTage", "VOLT", true, "the colon inside the bracket"},
		{"[SOURce:]VOLTage", "SOUR:VOLT", true, "the colon inside the bracket"},
		{"*IDN?", "*idn?", true, "S-02"},
	}
	for _, c := range cases {
		if got := Matches(c.pattern, c.header); got != c.want {
			t.Errorf("%s against %s (%s): %v", c.pattern, c.header, c.source, got)
		}
	}
}

func FuzzMatches(f *testing.F) {
	f.Add("MEASure[:SCALar]:VOLTage[:DC]?", "meas:volt?")
	f.Add("[:A[:B]]", ":A")
	f.Fuzz(func(t *testing.T, pattern, header string) {
		if len(pattern) > 60 || len(header) > 60 {
			return
		}
		if Matches(pattern, header) != Matches(pattern, strings.ToUpper(strings.ToLower(header))) && isASCII(header) {
			t.Fatalf("%q: %q depends on the letter case", pattern, header)
		}
	})
}

func isASCII(text string) bool {
	return strings.IndexFunc(text, func(r rune) bool { return r > '~' }) < 0
}

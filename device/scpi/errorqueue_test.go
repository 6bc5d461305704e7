package scpi

import (
	"errors"
	"strings"
	"testing"
)

func TestParseInstrumentError(t *testing.T) {
	cases := []struct {
		answer string
		want   InstrumentError
		class  ErrorClass
		source string
	}{
		{`0,"No error"`, InstrumentError{0, "No error", ""}, NoError, "SCPI-1999, vol. 2, 21.8"},
		{`+0,"No error"`, InstrumentError{0, "No error", ""}, NoError, "common practice, no source"},
		{`0`, InstrumentError{}, NoError, "common practice, no source"},
		{`-113,"Undefined header;MEAS:VOLTS?"`, InstrumentError{-113, "Undefined header", "MEAS:VOLTS?"}, CommandError, "SCPI-1999, vol. 2, 21.8"},
		{`-222, "Data out of range; VOLT 99; max 30"`, InstrumentError{-222, "Data out of range", "VOLT 99; max 30"}, ExecutionError, "SCPI-1999, vol. 2, 21.8"},
		{`-350,"Queue overflow"`, InstrumentError{-350, "Queue overflow", ""}, DeviceError, "SCPI-1999, vol. 2, 21.8"},
		{`-410,'Query INTERRUPTED'`, InstrumentError{-410, "Query INTERRUPTED", ""}, QueryError, "the other quote"},
		{`42,""`, InstrumentError{42, "", ""}, DeviceError, "positive codes are the maker's, the text may be empty"},
		{`101,"say ""on"""`, InstrumentError{101, `say "on"`, ""}, DeviceError, "IEEE 488.2, 8.7.8"},
		{`-230,Data corrupt or stale`, InstrumentError{-230, "Data corrupt or stale", ""}, ExecutionError, "without quotes; common practice, no source"},
		{`-800,"Operation complete"`, InstrumentError{-800, "Operation complete", ""}, OperationComplete, "-800 range"},
		{`-99,"x"`, InstrumentError{-99, "x", ""}, UnknownError, "just outside the command errors"},
		{`-100,"x"`, InstrumentError{-100, "x", ""}, CommandError, "first of the command errors"},
		{`-199,"x"`, InstrumentError{-199, "x", ""}, CommandError, "last of the command errors"},
		{`-200,"x"`, InstrumentError{-200, "x", ""}, ExecutionError, "first of the execution errors"},
		{`-900,"x"`, InstrumentError{-900, "x", ""}, UnknownError, "beyond the list"},
		{`32767,"x"`, InstrumentError{32767, "x", ""}, DeviceError, "largest code"},
	}
	for _, c := range cases {
		got, err := ParseInstrumentError(c.answer)
		if err != nil || got != c.want || got.Class() != c.class {
			t.Errorf("%s (%s): %+v, %s, %v", c.answer, c.source, got, got.Class(), err)
		}
	}
	for _, answer := range []string{"", "5.0121", "+5.0121E+00", "1", `-113`, `"No error"`, `32768,"x"`, `-113,"open`, `0,"a"b`, "Saltmarsh,M6,0,1.04"} {
		if got, err := ParseInstrumentError(answer); !errors.Is(err, ErrNotInstrumentError) {
			t.Errorf("%q: %+v, %v", answer, got, err)
		}
	}
}

func TestInstrumentErrorText(t *testing.T) {
	for want, e := range map[string]InstrumentError{
		"instrument error -113: Undefined header; X?":             {-113, "Undefined header", "X?"},
		"instrument error -230: Data corrupt or stale":            {-230, "", ""},
		"instrument error 42: maker's own code without text":      {42, "", ""},
		"instrument error 42: maker's own code without text; ch1": {42, "", "ch1"},
	} {
		if e.Error() != want {
			t.Errorf("%q, want %q", e.Error(), want)
		}
	}
	for code := range standardTexts {
		e := InstrumentError{Code: code}
		if e.Class() == UnknownError || len(StandardText(code)) > 255 {
			t.Errorf("%d has no class, or more text than the standard allows", code)
		}
	}
	for code, want := range map[int]bool{-359: false, -360: true, -361: true, -363: true, -364: false, 361: false} {
		if got := (InstrumentError{Code: code}).LineTrouble(); got != want {
			t.Errorf("S-78: %d points to the line: %v", code, got)
		}
	}
}

func FuzzParseInstrumentError(f *testing.F) {
	for _, seed := range []string{`0,"No error"`, `-113,"Undefined header;x"`, `42,""`, "5.0121", `-1,'a''b'`} {
		f.Add(seed)
	}
	f.Fuzz(func(t *testing.T, answer string) {
		e, err := ParseInstrumentError(answer)
		if err == nil && (e.Code < -32768 || e.Code > 32767 || e.Error() == "") {
			t.Fatalf("%q: %+v", answer, e)
		}
		if i, err := ParseIdentity(answer); err == nil && (i.Maker == "" || i.Model == "" || i.Text != answer) {
			t.Fatalf("%q: %+v", answer, i)
		}
	})
}

func TestParseIdentity(t *testing.T) {
	cases := []struct {
		text   string
		want   Identity
		source string
	}{
		{"Saltmarsh,M6,SM600123,1.04", Identity{Maker: "Saltmarsh", Model: "M6", Serial: "SM600123", Firmware: "1.04"}, "S-02"},
		{"Saltmarsh, M6 ,0,0", Identity{Maker: "Saltmarsh", Model: "M6"}, "S-02, 0 is not available"},
		{"Saltmarsh,M6,00,1.04", Identity{Maker: "Saltmarsh", Model: "M6", Serial: "00", Firmware: "1.04"}, "S-02, only 0 is not available"},
		{"Saltmarsh,S2,7,A1.0,B2.0,C3", Identity{Maker: "Saltmarsh", Model: "S2", Serial: "7", Firmware: "A1.0,B2.0,C3"}, "commas in the firmware; common practice, no source"},
		{"Saltmarsh,P3", Identity{Maker: "Saltmarsh", Model: "P3"}, "fewer fields; common practice, no source"},
		{"Saltmarsh,P3,,", Identity{Maker: "Saltmarsh", Model: "P3"}, "empty fields; common practice, no source"},
	}
	for _, c := range cases {
		c.want.Text = c.text
		if got, err := ParseIdentity(c.text); err != nil || got != c.want {
			t.Errorf("%s (%s): %+v, %v", c.text, c.source, got, err)
		}
	}
	for _, text := range []string{
		"", "M6", ",M6,0,0", "Saltmarsh,,0,0", "5.0121,1,2,3", "00226800E+00", `-113,"Undefined header"`, "*IDN?", "*IDN,x", "SYST:ERR?,x?",
		strings.Repeat(",", 3), "9.91E37,M6",
	} {
		if got, err := ParseIdentity(text); !errors.Is(err, ErrNotIdentity) {
			t.Errorf("%q became %+v", text, got)
		}
	}
}

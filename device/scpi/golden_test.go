package scpi_test

import (
	"context"
	"errors"
	"fmt"
	"path/filepath"
	"slices"
	"strings"
	"testing"
	"testing/synctest"
	"time"

	"soakline/device/scpi"
	"soakline/device/scpi/scpitest"
)

// goldenTalks are what a program does to each talk of testdata, and what it must
// get: an answer, or the error that begins with "!".
var goldenTalks = []struct {
	talk, ending string
	source       string
	do, want     []string
}{
	{
		talk: "meter-lf", source: "S-77, S-02, S-30; IEEE 488.2, 8.7",
		do:   []string{"resync", "ask MEAS:VOLT:DC?", "ask MEAS:FREQ?"},
		want: []string{"in step", "+5.01210000E+00", "273"},
	},
	{
		talk: "meter-crlf", ending: "crlf", source: "S-70, S-P15",
		do:   []string{"ask MEAS:VOLT:DC?", "ask MEAS:CURR:DC?"},
		want: []string{"+5.0121", "-.5"},
	},
	{
		talk: "meter-cr", ending: "cr", source: "S-70",
		do:   []string{"ask READ?", "ask READ?", "pause 10ms", "ask READ?"},
		want: []string{"0.273", "0.274", "", "0.275"},
	},
	{
		talk: "several-answers", source: "S-11, S-21; IEEE 488.2, 8.4",
		do:   []string{"fields MEAS:VOLT?;:MEAS:CURR?;:SENS:DATA?"},
		want: []string{"5.0121 -1.2E-3 1 2 3"},
	},
	{
		talk: "error-queue", source: "SCPI-1999, vol. 2, 21.8",
		do:   []string{"errors"},
		want: []string{"-113 command Undefined header/MEAS:VOLTS?, -222 execution Data out of range/"},
	},
	{
		talk: "maker-error", source: "SCPI-1999, vol. 2, 21.8",
		do:   []string{"errors"},
		want: []string{"42 device /"},
	},
	{
		talk: "queue-not-a-queue", source: "an answer to another question is none; ours",
		do:   []string{"errors", "ask READ?"},
		want: []string{"!garbage", "!out of step"},
	},
	{
		talk: "overflow", source: "S-32 to S-37; SCPI-1999, vol. 1, 7.2.1.4",
		do:   []string{"number READ?", "number READ?", "number READ?", "number READ?"},
		want: []string{"positive overflow", "negative overflow", "not a number", "!overload"},
	},
	{
		talk: "scope-block", source: "S-40, S-45; IEEE 488.2, 8.7.9",
		do:   []string{"block WAV:DATA?", "ask *OPC?"},
		want: []string{"000a0d231311ff800a7f", "1"},
	},
	{
		talk: "scope-block-short", source: "S-40",
		do:   []string{"block WAV:DATA?", "ask *OPC?"},
		want: []string{"!garbage", "!out of step"},
	},
	{
		talk: "scope-no-block", source: "common practice, no source",
		do:   []string{"block WAV:DATA?"},
		want: []string{"!garbage"},
	},
	{
		talk: "scope-two-endings", source: "S-45",
		do:   []string{"block WAV:DATA?"},
		want: []string{"!garbage"},
	},
	{
		talk: "scope-after-half-line", source: "S-40, S-P10, S-P15",
		do:   []string{"block WAV:DATA?", "ask *OPC?"},
		want: []string{"414243", "1 stale: 1.999"},
	},
	{
		talk: "scope-silent", source: "S-40",
		do:   []string{"block WAV:DATA?"},
		want: []string{"!silence"},
	},
	{
		talk: "scope-no-end", source: "S-45",
		do:   []string{"block WAV:DATA?", "ask *OPC?"},
		want: []string{"!garbage", "!out of step"},
	},
	{
		talk: "talker-garbage", source: "S-73; common practice, no source",
		do:   []string{"listen", "listen", "listen"},
		want: []string{"DC 5.0121 V", "!garbage", "DC 5.0122 V"},
	},
	{
		talk: "stale-first-line", source: "S-P10, S-P17",
		do:   []string{"ask MEAS:VOLT:DC?"},
		want: []string{`5.0121 stale: 1.999 | 0,"No error"`},
	},
	{
		talk: "late-answer", source: "S-77, S-P10",
		do:   []string{"ask MEAS:VOLT:DC?", "ask MEAS:VOLT:DC?", "resync", "ask MEAS:VOLT:DC?"},
		want: []string{"!silence", "!out of step", "in step stale: 4.9 | 4.8", "5.0121"},
	},
	{
		talk: "late-identity", source: "S-77",
		do:   []string{"resync", "ask MEAS:VOLT:DC?"},
		want: []string{"in step stale: Saltmarsh,M6,0,1.04", "5.0121"},
	},
	{
		talk: "echo", source: "S-P11",
		do:   []string{"ask MEAS:VOLT:DC?"},
		want: []string{"!garbage"},
	},
	{
		talk: "garbage", source: "S-71, S-73",
		do:   []string{"ask MEAS:VOLT:DC?", "resync", "ask MEAS:VOLT:DC?"},
		want: []string{"!garbage", `in step stale: \xfe\xfe`, "5.0121"},
	},
	{
		talk: "half-line", source: "S-P4, S-P15",
		do:   []string{"ask MEAS:VOLT:DC?", "resync", "ask MEAS:VOLT:DC?"},
		want: []string{"!garbage", "in step stale: 121", "4.9"},
	},
	{
		talk: "hang-up", source: "S-P1, S-P4",
		do:   []string{"ask MEAS:VOLT:DC?"},
		want: []string{"!line gone"},
	},
	{
		talk: "talker", source: "S-P10, S-P15",
		do:   []string{"align", "listen", "listen", "listen", "pause 1s", "listen", "listen"},
		want: []string{"aligned stale: 00226800E+00", "DC 5.0121 V", "!garbage", "!silence", "", "!garbage", "DC 5.0123 V"},
	},
	{
		talk: "cooked-line", source: "S-P11",
		do:   []string{"resync", "ask MEAS:VOLT:DC?"},
		want: []string{"in step stale: *CLS", "5.1"},
	},
}

func TestGoldenTalks(t *testing.T) {
	files, err := filepath.Glob("testdata/*.talk")
	if err != nil || len(files) != len(goldenTalks) {
		t.Fatalf("%d talks in testdata, %d in the table, error %v", len(files), len(goldenTalks), err)
	}
	for _, golden := range goldenTalks {
		t.Run(golden.talk, func(t *testing.T) {
			synctest.Test(t, func(t *testing.T) {
				line := scpitest.Open(t, filepath.Join("testdata", golden.talk+".talk"))
				c := scpi.NewConversation(line, scpi.Framing{SendEnding: golden.ending})
				var got []string
				for _, action := range golden.do {
					got = append(got, perform(c, action))
				}
				if !slices.Equal(got, golden.want) {
					t.Errorf("%s (%s):\n got %q\nwant %q", golden.talk, golden.source, got, golden.want)
				}
			})
		})
	}
}

// perform does one action with the patience of two seconds.
func perform(c *scpi.Conversation, action string) string {
	ctx, cancel := context.WithTimeout(context.Background(), 2*time.Second)
	defer cancel()
	verb, argument, _ := strings.Cut(action, " ")
	got, stale, err := act(ctx, c, verb, argument)
	if err != nil {
		return outcome(err)
	}
	if len(stale) > 0 {
		got += " stale: " + strings.Join(stale, " | ")
	}
	return got
}

func act(ctx context.Context, c *scpi.Conversation, verb, argument string) (got string, stale []string, err error) {
	var answer scpi.Answer
	switch verb {
	case "pause":
		duration, err := time.ParseDuration(argument)
		<-time.After(duration) // the bubble's time
		return "", nil, err
	case "resync":
		stale, err = c.Resync(ctx, "*IDN?", isIdentity, 100*time.Millisecond)
		return "in step", stale, err
	case "align":
		stale, err = c.Resync(ctx, "", nil, 100*time.Millisecond)
		return "aligned", stale, err
	case "errors":
		entries, err := c.DrainErrors(ctx, "SYST:ERR?")
		return listed(entries), nil, err
	case "block":
		data, _, err := c.AskBlock(ctx, argument, 100)
		return fmt.Sprintf("%x", data), nil, err
	case "listen":
		answer, err = c.NextLine(ctx)
	default:
		answer, err = c.Ask(ctx, argument)
	}
	if err != nil {
		return "", nil, err
	}
	got, err = read(verb, answer.Text)
	return got, answer.Stale, err
}

// read is an answer's text as the verb wants it.
func read(verb, text string) (string, error) {
	switch verb {
	case "number":
		number, err := scpi.ParseNumber(text)
		return number.Class.String(), err
	case "fields":
		answers, err := scpi.SplitResponse(text)
		var all []string
		for _, element := range slices.Concat(answers...) {
			all = append(all, element.Text)
		}
		return strings.Join(all, " "), err
	default:
		return text, nil
	}
}

func isIdentity(line string) bool {
	_, err := scpi.ParseIdentity(line)
	return err == nil
}

func listed(entries []scpi.InstrumentError) string {
	var all []string
	for _, e := range entries {
		all = append(all, fmt.Sprintf("%d %s %s/%s", e.Code, e.Class(), e.Text, e.Detail))
	}
	return strings.Join(all, ", ")
}

// outcome is the kind of an error, after "!".
func outcome(err error) string {
	kinds := []struct {
		is   error
		name string
	}{
		{scpi.ErrSilence, "silence"},
		{scpi.ErrGarbage, "garbage"},
		{scpi.ErrOutOfStep, "out of step"},
		{scpi.ErrOverload, "overload"},
		{scpitest.ErrHangUp, "line gone"},
	}
	for _, kind := range kinds {
		if errors.Is(err, kind.is) {
			return "!" + kind.name
		}
	}
	return "!" + err.Error()
}

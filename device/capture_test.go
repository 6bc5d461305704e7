package device_test

import (
	"context"
	"encoding/binary"
	"errors"
	"fmt"
	"math"
	"slices"
	"strings"
	"testing"

	"soakline/device"
)

// table is a line whose instrument answers from a table; what is not in it is not
// answered.
type table struct {
	answers map[string]string
	sent    []string
	arrived []byte
}

func (l *table) Write(_ context.Context, p []byte) error {
	message := strings.TrimRight(string(p), "\n")
	l.sent = append(l.sent, message)
	l.arrived = append(l.arrived, l.answers[message]...)
	return nil
}

// Read waits for nothing: what is not there now never comes.
func (l *table) Read(ctx context.Context, p []byte) (int, error) {
	if len(l.arrived) == 0 {
		if err := ctx.Err(); err != nil {
			return 0, err
		}
		return 0, context.DeadlineExceeded
	}
	n := copy(p, l.arrived)
	l.arrived = l.arrived[n:]
	return n, nil
}

func (l *table) Discard() error {
	l.arrived = nil
	return nil
}

// scopeAsk asks a scope for a record of channel 2.
func scopeAsk(encoding string, lowByteFirst bool) device.CaptureAsk {
	return device.CaptureAsk{
		Arm: []string{"SING {channel}", "*OPC?"}, Done: "STAT?", DoneIs: "STOP",
		Preamble: []device.PreambleAsk{{Gives: "x-increment", Send: "PRE?", Field: 0}, {Gives: "y-increment", Send: "PRE?", Field: 1},
			{Gives: "y-origin", Send: "PRE?", Field: 2}, {Gives: "y-reference", Send: "PRE?", Field: 3}, {Gives: "probe", Send: "PROB? {channel}"}},
		Data: "DATA? {channel}", Encoding: encoding, LowByteFirst: lowByteFirst, CouplingAsk: "COUP? {channel}",
	}
}

// scopeAnswers is a scope whose code is worth 0.5 V at the probe's tip, of which
// code 100 is 0 V: (code - 100) * 0.05 V + 0 V, times 10.
func scopeAnswers(data string) map[string]string {
	return map[string]string{
		"*IDN?": "Saltmarsh,S2,S20044,2.0\n", "*OPC?": "1\n", "STAT?": "STOP\n", "PRE?": "4E-9,0.05,0,100\n",
		"PROB? 2": "10\n", "DATA? 2": data, "COUP? 2": "DC\n",
	}
}

func capture(t *testing.T, ask device.CaptureAsk, answers map[string]string) (device.Capture, *table, error) {
	t.Helper()
	line := &table{answers: answers}
	link := device.Link{Name: "scope", Commands: device.CommandSet{Name: "scope", Line: plainLine, Identify: "*IDN?", Capture: &ask}}
	session, err := device.NewSession(t.Context(), link, "port", line)
	if err != nil {
		t.Fatal(err)
	}
	record, err := session.Capture(t.Context(), device.Shot{Channel: "2"})
	return record, line, err
}

// block is a definite-length block (IEEE 488.2, 8.7.9).
func block(data []byte) string {
	length := fmt.Sprint(len(data))
	return fmt.Sprintf("#%d%s%s\n", len(length), length, data)
}

// The codes 110, 100 and 98 are 5 V, 0 V and -1 V in every encoding and in either
// byte order (SCPI-1999, FORMat:BORDer; S-46, S-47).
func TestCaptureEncodings(t *testing.T) {
	codes := []uint16{110, 100, 98}
	word := func(order binary.AppendByteOrder) string {
		var data []byte
		for _, code := range codes {
			data = order.AppendUint16(data, code)
		}
		return block(data)
	}
	float := func(order binary.AppendByteOrder) string {
		var data []byte
		for _, code := range codes {
			data = order.AppendUint32(data, math.Float32bits(float32(code)))
		}
		return block(data)
	}
	for _, row := range []struct {
		encoding string
		lowFirst bool
		data     string
	}{
		{"uint8", false, block([]byte{110, 100, 98})},
		{"int8", false, block([]byte{110, 100, 98})},
		{"uint16", false, word(binary.BigEndian)},
		{"uint16", true, word(binary.LittleEndian)},
		{"int16", true, word(binary.LittleEndian)},
		{"float32", false, float(binary.BigEndian)},
		{"float32", true, float(binary.LittleEndian)},
		{"ascii", false, "110,1.00E2, 98.0\n"},
	} {
		t.Run(fmt.Sprintf("%s %t", row.encoding, row.lowFirst), func(t *testing.T) {
			ask := scopeAsk(row.encoding, row.lowFirst)
			ask.LowCode, ask.HighCode = 0, 255
			record, line, err := capture(t, ask, scopeAnswers(row.data))
			if err != nil {
				t.Fatal(err)
			}
			want := device.Capture{Volts: []float64{5, 0, -1}, SampleIntervalSeconds: 4e-9, StepVolts: 0.5, LowVolts: -50, HighVolts: 77.5, Coupling: "dc", At: record.At}
			if !slices.Equal(record.Volts, want.Volts) || record.StepVolts != want.StepVolts || record.SampleIntervalSeconds != 4e-9 ||
				record.LowVolts != want.LowVolts || record.HighVolts != want.HighVolts || record.Coupling != "dc" || record.At.IsZero() {
				t.Errorf("%+v, want %+v", record, want)
			}
			if !slices.Contains(line.sent, "SING 2") {
				t.Errorf("sent %q", line.sent)
			}
		})
	}
}

// A record in volts has no code and no step.
func TestCaptureInVolts(t *testing.T) {
	ask := device.CaptureAsk{Preamble: []device.PreambleAsk{{Gives: "x-increment", Send: "PRE?"}}, Data: "DATA? {channel}", Encoding: "ascii", Coupling: "ac"}
	record, _, err := capture(t, ask, scopeAnswers("0.25,-0.5\n"))
	if err != nil || !slices.Equal(record.Volts, []float64{0.25, -0.5}) || record.StepVolts != 0 || record.LowVolts != 0 || record.HighVolts != 0 || record.Coupling != "ac" {
		t.Errorf("%+v, %v", record, err)
	}
}

// What is no record is none, whatever part of it is wrong.
func TestCaptureRefuses(t *testing.T) {
	good := block([]byte{110, 100})
	for _, row := range []struct {
		name, message, answer string
		kind                  device.Kind
	}{
		{"an empty block (S-41)", "DATA? 2", "#10\n", device.Garbage},
		{"a block too short", "DATA? 2", "#15ab\n", device.Garbage},
		{"an indefinite block (S-43)", "DATA? 2", "#0ab\n", device.Garbage},
		{"no block", "DATA? 2", "1,2,3\n", device.Garbage},
		{"more behind the block (S-45)", "DATA? 2", "#12abc\n", device.Garbage},
		{"no data", "DATA? 2", "", device.Silence},
		{"no trigger", "STAT?", "", device.Silence},
		{"an interval of 0 s", "PRE?", "0,0.05,0,100\n", device.Garbage},
		{"an interval that is no number", "PRE?", "9.91E37,0.05,0,100\n", device.Overflow},
		{"a code worth nothing", "PRE?", "4E-9,0,0,100\n", device.Garbage},
		{"a preamble too short", "PRE?", "4E-9,0.05\n", device.Garbage},
		{"no answer to the arming question", "*OPC?", "", device.Silence},
		{"two answers to the arming question", "*OPC?", "1\n1\n", device.Garbage},
	} {
		t.Run(row.name, func(t *testing.T) {
			answers := scopeAnswers(good)
			answers[row.message] = row.answer
			record, _, err := capture(t, scopeAsk("uint8", false), answers)
			own, ok := errors.AsType[*device.Error](err)
			if !ok || own.Kind != row.kind || record.Volts != nil {
				t.Errorf("%+v, %v", record, err)
			}
		})
	}
	_, _, err := capture(t, scopeAsk("ascii", false), scopeAnswers("110,9.91E37,98\n"))
	if own, ok := errors.AsType[*device.Error](err); !ok || own.Kind != device.Overflow || !strings.Contains(err.Error(), "sample 1 of 3") {
		t.Errorf("a sample that is not a number: %v", err)
	}
	answers := scopeAnswers(good)
	answers["COUP? 2"] = "GND\n"
	if record, _, err := capture(t, scopeAsk("uint8", false), answers); err != nil || record.Coupling != "" {
		t.Errorf("a coupling of no name: %+v, %v", record, err)
	}
}

// Two channels of one acquisition are armed once and fetched one after the other;
// audio has its own way where the set gives one.
func TestCaptureTwoChannelsAtOnce(t *testing.T) {
	video := scopeAsk("uint8", false)
	sound := device.CaptureAsk{Arm: []string{"SING"}, Preamble: []device.PreambleAsk{{Gives: "x-increment", Send: "PRE?"}, {Gives: "y-increment", Send: "PRE?", Field: 1}},
		Data: "DATA?", Encoding: "uint8", Coupling: "dc", Beside: []string{"SOUR {channel}"}}
	commands := device.CommandSet{Name: "scope", Line: plainLine, Identify: "*IDN?", Capture: &video, AudioCapture: &sound}
	line := &table{answers: map[string]string{"*IDN?": "Saltmarsh,S2,S20044,2.0\n", "PRE?": "1E-5,0.01\n", "DATA?": block([]byte{1, 2})}}
	session, err := device.NewSession(t.Context(), device.Link{Name: "scope", Commands: commands}, "port", line)
	if err != nil {
		t.Fatal(err)
	}
	record, err := session.Capture(t.Context(), device.Shot{Channel: "5", Signal: device.AudioSignal, Beside: "6"})
	if err != nil {
		t.Fatal(err)
	}
	if record.Beside == nil || !slices.Equal(record.Beside.Volts, []float64{0.01, 0.02}) || record.Beside.At.IsZero() || record.SampleIntervalSeconds != 1e-5 {
		t.Errorf("%+v", record)
	}
	if want := []string{"SING", "PRE?", "PRE?", "DATA?", "SOUR 6", "PRE?", "PRE?", "DATA?"}; !slices.Equal(line.sent[max(0, len(line.sent)-len(want)):], want) {
		t.Errorf("sent %q, want %q", line.sent, want)
	}
	if _, err := session.Capture(t.Context(), device.Shot{Channel: "1", Beside: "2"}); err == nil || !strings.Contains(err.Error(), "beside") {
		t.Errorf("a second channel that the set knows no way to: %v", err)
	}
}

package main

import (
	"fmt"
	"io"
	"strings"

	"soakline/config"
	"soakline/device"
)

// foundView is what is on a port, as scripts see it.
type foundView struct {
	Port      string        `json:"port"`
	Address   string        `json:"address"`
	Looks     string        `json:"looks"`
	Identity  *identityView `json:"identity"` // null for an instrument that only talks
	Baud      int           `json:"baud"`
	DataBits  int           `json:"data_bits"`
	Parity    string        `json:"parity"`
	StopBits  string        `json:"stop_bits"`
	Ending    string        `json:"ending"`
	AnswerS   *float64      `json:"answer_s"`
	Ask       string        `json:"ask,omitempty"`
	Answer    string        `json:"answer,omitempty"`
	Lines     []string      `json:"lines,omitempty"`
	BenchYAML string        `json:"bench_yaml"`

	line device.LineSettings
}

type identityView struct {
	Maker    string `json:"maker"`
	Model    string `json:"model"`
	Serial   string `json:"serial"`
	Firmware string `json:"firmware"`
	Text     string `json:"text"`
}

func viewFound(found device.Found, address string) foundView {
	l := found.Line
	view := foundView{Port: found.Port, Address: address, Looks: string(found.Looks.Kind), Baud: l.Baud, DataBits: l.DataBits, Parity: l.Parity,
		StopBits: l.StopBits, Ending: l.SendEnding, Ask: found.Looks.Ask, Answer: found.Looks.Answer, Lines: found.Lines, line: l}
	if id := found.Identity; id.Text != "" {
		view.Identity = &identityView{Maker: id.Maker, Model: id.Model, Serial: id.Serial, Firmware: id.Firmware, Text: id.Text}
		seconds := found.AnswerTime.Seconds()
		view.AnswerS = &seconds
	}
	view.BenchYAML = snippet(view)
	return view
}

// commandSets are the shipped sets to begin with, by kind.
var commandSets = map[string]string{
	string(device.Meter): "scpi-meter", string(device.Scope): "scpi-scope", string(device.Supply): "scpi-supply",
	string(device.Talker): "line-talker", string(device.Unknown): "scpi-meter",
}

// snippet is what bench.yaml needs for this instrument.
func snippet(v foundView) string {
	name := v.Looks
	if name == string(device.Unknown) {
		name = "instrument"
	}
	var b strings.Builder
	fmt.Fprintf(&b, "instruments:\n  - name: %s\n    port: %q\n    command_set: %s\n", name, v.Address, commandSets[v.Looks])
	if !strings.HasPrefix(v.Address, "tcp://") {
		fmt.Fprintf(&b, "    line: {baud: %d, data_bits: %d, parity: %s, stop_bits: %s, ending: %s}\n", v.Baud, v.DataBits, v.Parity, v.StopBits, v.Ending)
	}
	return b.String()
}

// printFound tells a person what is there and how to use it.
func printFound(w io.Writer, v foundView) {
	if v.Identity != nil {
		fmt.Fprintf(w, "answered *IDN? at %s, in %s:  %s\n", v.line, milliseconds(*v.AnswerS), v.Identity.Text)
	} else {
		fmt.Fprintf(w, "talks without being asked, at %s:\n", strings.Split(v.line.String(), ",")[0])
		for _, line := range v.Lines {
			fmt.Fprintf(w, "  %s\n", line)
		}
	}
	fmt.Fprintln(w, impression(v))
	fmt.Fprintln(w, "to use it, add to bench.yaml:")
	for line := range strings.Lines(v.BenchYAML) {
		fmt.Fprint(w, "  "+line)
	}
}

// impression says in one sentence what it looks like, and why.
func impression(v foundView) string {
	switch v.Looks {
	case string(device.Unknown):
		return "not clear what it is: it answers none of the words for a meter, a scope or a supply; copy command set scpi-meter beside bench.yaml and put its own words in"
	case string(device.Talker):
		return "looks like a talk-only instrument: " + talkAdvice(v.Lines)
	default:
		return fmt.Sprintf("looks like a %s: %s gives %s", v.Looks, v.Ask, v.Answer)
	}
}

// talkAdvice tells whether the shipped set understands the lines.
func talkAdvice(lines []string) string {
	set, err := config.ShippedCommandSet(commandSets[string(device.Talker)])
	if err == nil && set.Listen.Understands(lines) {
		return "command set line-talker reads its lines"
	}
	return "command set line-talker does not read its lines; copy it beside bench.yaml and change pattern, measure and units"
}

// milliseconds writes a time as instruments take it.
func milliseconds(seconds float64) string {
	if ms := seconds * 1e3; ms >= 1 {
		return fmt.Sprintf("%.0f ms", ms)
	}
	return "less than 1 ms"
}

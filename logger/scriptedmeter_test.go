package logger_test

import (
	"fmt"
	"strconv"
	"strings"
	"sync"
	"testing"

	"soakline/device"
	"soakline/device/port/porttest"
)

// scriptedMeter is a meter behind a pseudo-terminal that never gives a number twice:
// what it says at a channel is the channel's level and, behind the point, how often it
// has spoken. So each reading in a book tells which question it answers, or that it
// answers none. It shares nothing with the program's own language.
type scriptedMeter struct {
	name, identity string
	cable          *porttest.Cable
	levels         map[int]int // by channel

	mu      sync.Mutex
	channel int
	spoken  int
	asked   int            // READ? so far
	said    map[string]int // level by answer that went out, whole and in time
	// moment is when a mishap begins, mishap how it answers then; hit is closed.
	moment *moment
	mishap answering
	hit    chan struct{}
	// state answers while a mishap lasts.
	state answering
	held  string
}

// answering is what a meter that something has befallen says to a message.
type answering func(m *scriptedMeter, message, usual string) string

// newScriptedMeter returns a meter that is not plugged in yet.
func newScriptedMeter(t *testing.T, name, serial string, levels map[int]int) *scriptedMeter {
	m := &scriptedMeter{name: name, identity: "Saltmarsh,M6," + serial + ",1.4", cable: porttest.NewCable(t),
		levels: levels, said: map[string]int{}, hit: make(chan struct{})}
	m.cable.Pull()
	return m
}

func (m *scriptedMeter) plugIn() {
	m.cable.Return()
	m.cable.Answer(m.reply)
}

// reply is what the meter says to a line.
func (m *scriptedMeter) reply(line string) string {
	m.mu.Lock()
	defer m.mu.Unlock()
	message := strings.TrimRight(line, "\r\n")
	usual := m.usual(message)
	if m.moment != nil && m.moment.is(message, m.asked) {
		cut := m.moment.cut
		m.moment, m.state = nil, m.mishap
		if cut > 0 && usual != "" {
			part := m.say(usual)
			if cut < 1 {
				delete(m.said, usual)
				part = usual[:int(cut*float64(len(usual)))]
			}
			m.cable.Send(part) // it is on the line before the mishap begins
			usual = ""
		}
		close(m.hit)
	}
	if m.state != nil {
		return m.state(m, message, usual)
	}
	return m.say(usual)
}

// say ends an answer, and notes that it was given; what is empty is no answer.
func (m *scriptedMeter) say(usual string) string {
	if usual == "" {
		return ""
	}
	if whole, _, isNumber := strings.Cut(usual, "."); isNumber && !strings.Contains(usual, ",") {
		level, _ := strconv.Atoi(whole)
		m.said[usual] = level
	}
	return usual + "\n"
}

func (m *scriptedMeter) usual(message string) string {
	switch {
	case message == "*IDN?":
		return m.identity
	case message == "READ?":
		m.asked++
		m.spoken++
		return fmt.Sprintf("%d.%06d", m.levels[m.channel], m.spoken)
	case message == "SYST:ERR?":
		return `0,"No error"`
	case strings.HasPrefix(message, "CLOS "):
		m.channel, _ = strconv.Atoi(message[len("CLOS "):])
	}
	return ""
}

// set changes the meter while it is in use.
func (m *scriptedMeter) set(change func()) {
	m.mu.Lock()
	defer m.mu.Unlock()
	change()
}

// commands is how a scripted meter is asked.
func scriptedCommands() device.CommandSet {
	return device.CommandSet{Name: "scripted",
		Line:     device.LineSettings{Baud: 115200, DataBits: 8, Parity: "none", StopBits: "1", Flow: "none", SendEnding: "lf"},
		Identify: "*IDN?", Select: "CLOS {channel}",
		Asks:       []device.Ask{{Measure: device.DCVoltage, Send: "READ?", Timeout: answerWithin}},
		ErrorCheck: device.ErrorCheck{Send: "SYST:ERR?", Every: mishapLasts / 4}}
}

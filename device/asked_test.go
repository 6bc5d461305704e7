package device_test

import (
	"fmt"
	"strconv"
	"strings"
	"sync"
	"testing"
	"time"

	"soakline/device"
	"soakline/device/devicetest"
	"soakline/device/port/porttest"
)

// counter is a meter that never gives the same number twice: the channel, and how
// often it has answered. So each reading tells which question it answers.
type counter struct {
	cable *porttest.Cable

	mu       sync.Mutex
	identity string
	channel  int
	count    int
	answered map[string]bool // answers that no reading has used yet
	// answer, if set, says what is sent instead; ok is false to send as usual.
	answer  func(message, usual string) (instead string, ok bool)
	silent  bool
	garbage int
	heard   []string
}

func newCounter(t testing.TB) *counter {
	c := &counter{cable: porttest.NewCable(t), identity: "Saltmarsh,M6,S60017,1.4", answered: map[string]bool{}}
	c.cable.Answer(c.reply)
	return c
}

// reply is the meter's own language; it shares nothing with the program's.
func (c *counter) reply(line string) string {
	c.mu.Lock()
	defer c.mu.Unlock()
	message := strings.TrimRight(line, "\r\n")
	c.heard = append(c.heard, message)
	usual := c.usual(message)
	if usual == "" || c.silent {
		return ""
	}
	if c.garbage > 0 {
		c.garbage--
		return "\xff\xfe\x03" + usual[:len(usual)/2] + "\n"
	}
	if c.answer != nil {
		if instead, ok := c.answer(message, usual); ok {
			return instead
		}
	}
	return usual + "\n"
}

func (c *counter) usual(message string) string {
	switch {
	case message == "*IDN?":
		return c.identity
	case message == "READ?":
		c.count++
		value := fmt.Sprintf("%d.%06d", c.channel, c.count)
		c.answered[value] = true
		return value
	case message == "*OPC?":
		return "1"
	case message == "SYST:ERR?":
		return `0,"No error"`
	case strings.HasPrefix(message, "CLOS "):
		c.channel, _ = strconv.Atoi(message[len("CLOS "):])
	}
	return ""
}

// set changes the meter while it is in use.
func (c *counter) set(change func()) {
	c.mu.Lock()
	defer c.mu.Unlock()
	change()
}

// check holds a reading against the answers given, each of which counts once.
func (c *counter) check(d devicetest.Delivered) error {
	c.mu.Lock()
	defer c.mu.Unlock()
	digits := d.Digits.String()
	if !c.answered[digits] {
		return fmt.Errorf("%s was never answered, or is read twice", digits)
	}
	delete(c.answered, digits)
	if channel, _, _ := strings.Cut(digits, "."); channel != d.Channel {
		return fmt.Errorf("%s is of channel %s and was read as channel %s", digits, channel, d.Channel)
	}
	return nil
}

// commands is how a counter is asked.
func (c *counter) commands() device.CommandSet {
	return device.CommandSet{
		Name: "counter", Line: plainLine, Identify: "*IDN?", Select: "CLOS {channel}",
		Asks:       []device.Ask{{Measure: device.DCVoltage, Send: "READ?", Timeout: 300 * time.Millisecond}},
		ErrorCheck: device.ErrorCheck{Send: "SYST:ERR?"},
	}
}

var plainLine = device.LineSettings{Baud: 115200, DataBits: 8, Parity: "none", StopBits: "1", Flow: "none", SendEnding: "lf"}

func (c *counter) link() device.Link {
	return device.Link{Name: "meter", Port: c.cable.Path(), Commands: c.commands()}
}

// wants asks two channels in turn, so that an answer to the question before would
// be another channel's.
func wants() []device.Want {
	return []device.Want{
		{Channel: "101", Measure: device.DCVoltage, Every: 10 * time.Millisecond},
		{Channel: "102", Measure: device.DCVoltage, Every: 10 * time.Millisecond},
	}
}

func TestPromisesAsked(t *testing.T) {
	devicetest.Run(t, func(t *testing.T) devicetest.Rig {
		c := newCounter(t)
		return devicetest.Rig{
			Link: c.link(), Wants: wants(), Check: c.check, Pull: c.cable.Pull,
			Return:  func() { c.cable.Return(); c.cable.Answer(c.reply) },
			Silence: func(on bool) { c.set(func() { c.silent = on }) },
			Garbage: func() { c.set(func() { c.garbage = 1 }) },
		}
	})
}

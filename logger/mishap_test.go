package logger_test

import (
	"math/rand/v2"
	"time"

	"soakline/device"
	"soakline/device/port/porttest"
)

const (
	// answerWithin is what the command set gives the meter for an answer.
	answerWithin = 250 * time.Millisecond
	// freshWithin is how long a reading of the fault bench speaks for its point, and
	// mishapLasts is longer, so that what is missing meanwhile must be a gap.
	freshWithin = 500 * time.Millisecond
	mishapLasts = time.Second
)

// moment is where in a conversation a mishap begins.
type moment struct {
	name string
	is   func(message string, asked int) bool
	cut  float64 // the share of the answer that still goes out
}

// settled is how many readings are asked for before a mishap in the middle of a soak.
const settled = 6

func reading(message string, asked int) bool { return message == "READ?" && asked > settled }

var (
	firstWord   = moment{"before it has said who it is", func(message string, _ int) bool { return message == "*IDN?" }, 0}
	firstAnswer = moment{"before the first answer", func(message string, _ int) bool { return message == "READ?" }, 0}
	instead     = moment{"instead of an answer", reading, 0}
	middle      = moment{"in the middle of an answer", reading, 0.5}
	between     = moment{"between two questions", reading, 1}
	queue       = moment{"while it is asked for its errors", func(message string, asked int) bool { return message == "SYST:ERR?" && asked > settled }, 0}

	ofThePort = []moment{firstWord, firstAnswer, instead, middle, between, queue}
	ofTheLine = []moment{firstWord, firstAnswer, instead, queue}
)

// mishap is what befalls the first of a patient's two meters, or both.
type mishap struct {
	name    string
	moments []moment
	// reply answers while it lasts; begin and end are done beside that.
	reply      answering
	begin, end func(p *patient)
	kinds      []device.Kind // one of which must be in the book
	mute       bool          // nothing of the first meter can be read meanwhile
	both       bool          // nor of the second
}

func silent(*scriptedMeter, string, string) string { return "" }

// mishaps are the rows of the table in DEVELOPERS.md that a serial line can show.
var mishaps = []mishap{
	{name: "unplugged, back as another device", moments: ofThePort, reply: silent, mute: true,
		begin: func(p *patient) { p.meters[0].cable.Pull() }, end: func(p *patient) { p.plugIn(p.meters[:1]) },
		kinds: []device.Kind{device.Lost}},
	{name: "hub starts anew", moments: ofThePort, reply: silent, mute: true, both: true,
		begin: func(p *patient) { p.pullAll() }, end: func(p *patient) { p.plugIn(p.meters) },
		kinds: []device.Kind{device.Lost}},
	// Before it has ever said who it is, whoever answers at a path is believed.
	{name: "hub starts anew, names swapped for a while", moments: ofThePort[1:], reply: silent, mute: true, both: true,
		begin: func(p *patient) { p.pullAll(); p.swap() }, end: func(p *patient) { p.pullAll(); p.swap() },
		kinds: []device.Kind{device.Stranger, device.Lost}},
	{name: "instrument switched off and on", moments: ofThePort, reply: silent, mute: true,
		begin: func(p *patient) { p.meters[0].set(func() { p.meters[0].channel = 0 }) },
		kinds: []device.Kind{device.Silence, device.Garbage}},
	{name: "wrong speed", moments: ofTheLine, mute: true,
		reply: func(_ *scriptedMeter, _, usual string) string { return static(len(usual) + 1) },
		kinds: []device.Kind{device.Garbage, device.Silence}},
	{name: "noise on the line", moments: ofTheLine, begin: disturb,
		reply: func(m *scriptedMeter, _, usual string) string { return static(2) + m.say(usual) },
		kinds: []device.Kind{device.Garbage, device.Silence}},
	{name: "every answer doubled", moments: ofTheLine,
		reply: func(m *scriptedMeter, _, usual string) string { said := m.say(usual); return said + said },
		kinds: []device.Kind{device.Garbage}},
	{name: "every answer one question late", moments: ofTheLine, mute: true,
		reply: func(m *scriptedMeter, _, usual string) string { return m.hold(usual) },
		kinds: []device.Kind{device.Garbage, device.Silence}},
	{name: "answers crossed", moments: ofTheLine, mute: true,
		reply: func(m *scriptedMeter, message, usual string) string {
			if message == "READ?" {
				m.held = usual + "\n"
				return ""
			}
			late := m.held
			if message == "*IDN?" {
				m.held = ""
				return m.say(usual) + late
			}
			return m.say(usual)
		},
		kinds: []device.Kind{device.Silence}},
	{name: "a hundred times slower", moments: ofTheLine,
		reply: func(m *scriptedMeter, _, usual string) string { m.dawdle(answerWithin / 5); return m.say(usual) }},
	{name: "a hundred times slower, and later than it may be", moments: ofTheLine[1:], mute: true,
		reply: func(m *scriptedMeter, message, usual string) string {
			m.dawdle(answerWithin * 3 / 2)
			if message == "READ?" {
				return usual + "\n" // too late to be anybody's
			}
			return m.say(usual)
		},
		kinds: []device.Kind{device.Silence}},
}

// hold gives what it held back, and keeps this answer instead.
func (m *scriptedMeter) hold(usual string) string {
	out := m.held
	m.held = ""
	if usual != "" {
		m.held = usual + "\n"
	}
	return out
}

// dawdle makes it take its time.
func (m *scriptedMeter) dawdle(d time.Duration) { <-time.After(d) }

// static is what a line at another speed, or beside a motor, shows: bytes of which
// none is one that an answer has.
func static(n int) string {
	b := make([]byte, n)
	for i := range b {
		b[i] = byte(0x80 + rand.IntN(0x80))
	}
	return string(b)
}

// disturb puts noise and line ends on the line until the mishap has lasted.
func disturb(p *patient) {
	tick := time.NewTicker(7 * time.Millisecond)
	defer tick.Stop()
	for range int(mishapLasts / (7 * time.Millisecond)) {
		<-tick.C
		p.meters[0].cable.Send(static(rand.IntN(4)) + []string{"", "\n"}[rand.IntN(2)])
	}
}

func (p *patient) pullAll() {
	for _, m := range p.meters {
		m.cable.Pull()
	}
}

func (p *patient) plugIn(meters []*scriptedMeter) {
	for _, m := range meters {
		m.set(func() { m.state = nil })
		m.plugIn()
	}
}

// swap plugs both in, each under the other's name.
func (p *patient) swap() {
	porttest.Swap(p.meters[0].cable, p.meters[1].cable)
	for _, m := range p.meters {
		m.set(func() { m.state = nil })
		m.cable.Answer(m.reply)
	}
}

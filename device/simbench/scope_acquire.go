package simbench

import (
	"math"
	"time"
)

// scopeTrigger is when a record begins.
type scopeTrigger struct {
	source int // channel, 0: at once
	level  float64
	fall   bool
	normal bool // wait for ever
	forced bool
}

// acquisition is a single record that has been asked for.
type acquisition struct {
	armed    float64 // s, when it was asked for
	searched float64 // s, up to where there was no trigger
	at       float64 // s, of the trigger; NaN until it is found
}

func newAcquisition(now float64) *acquisition {
	return &acquisition{armed: now, searched: now, at: math.NaN()}
}

// record is what a channel has seen.
type record struct {
	codes    []uint16 // from 0 at the range's low end, of the converter's bits
	interval float64
	origin   float64 // s, of the first sample from the trigger
	low      float64 // V, of code 0
	step     float64 // V per code
	bits     int
}

// triggerCommands adds the trigger and what starts and stops records.
func (s *scope) triggerCommands(l *commands) {
	s.setting(l, "TRIGger:LEVel", "V", -100, 0, 100, func(*call) (*float64, error) { return &s.trigger.level, nil })
	s.choice(l, "TRIGger:SLOPe", []string{"POSitive", "NEGative"}, func(n int) { s.trigger.fall = n == 1 },
		func() string { return either(s.trigger.fall, "NEG", "POS") })
	s.choice(l, "TRIGger:SWEep", []string{"AUTO", "NORMal"}, func(n int) { s.trigger.normal = n == 1 },
		func() string { return either(s.trigger.normal, "NORM", "AUTO") })
	l.add("TRIGger:SOURce", func(c *call) error { return s.source(c, &s.trigger.source, true) })
	l.add("TRIGger:SOURce?", func(c *call) error {
		if s.trigger.source == 0 {
			return c.reply("NONE")
		}
		return c.reply("CHAN%d", s.trigger.source)
	})
	l.add("TRIGger:FORCe", func(c *call) error {
		if s.state != stateWait {
			return failure(-211, "")
		}
		s.trigger.forced = true
		return nil
	})
	l.add("RUN", func(*call) error { s.state, s.pending = stateRun, nil; return nil })
	l.add("STOP", func(*call) error { s.state, s.pending = stateStop, nil; return nil })
	l.add("SINGle", func(c *call) error {
		s.state = stateWait
		s.records = map[int]*record{}
		s.pending = newAcquisition(c.now())
		return nil
	})
	l.add("ACQuire:STATe?", func(c *call) error {
		s.advance(c.now())
		return c.reply("%s", s.state)
	})
	l.add("*OPC?", func(c *call) error {
		if err := s.complete(c); err != nil {
			return err
		}
		return c.reply("1")
	})
}

// choice adds a word with its query.
func (s *scope) choice(l *commands, header string, words []string, set func(int), get func() string) {
	l.add(header, func(c *call) error {
		if err := c.want(1, 1); err != nil {
			return err
		}
		n, err := c.word(0, words...)
		if err == nil {
			set(n)
		}
		return err
	})
	l.add(header+"?", func(c *call) error { return c.reply("%s", get()) })
}

// source reads CHANnel<n>, or NONE where that is allowed.
func (s *scope) source(c *call, to *int, none bool) error {
	if err := c.want(1, 1); err != nil {
		return err
	}
	if _, err := c.word(0, "NONE"); err == nil && none {
		*to = 0
		return nil
	}
	n, ok := keyword{long: "CHANNEL", short: "CHAN", suffixed: true}.matches(c.args[0])
	if !ok || s.channels[n] == nil {
		return failure(-224, c.args[0])
	}
	*to = n
	return nil
}

// complete waits until a pending record is there. A message that comes meanwhile
// ends the wait: otherwise a trigger that never comes would shut the line.
func (s *scope) complete(c *call) error {
	for {
		s.advance(c.now())
		if s.pending == nil {
			return nil
		}
		wait := 2 * time.Millisecond
		if p := s.pending; !math.IsNaN(p.at) {
			end := p.at + s.time*(1-s.position)
			wait = time.Duration((end-c.now())*float64(time.Second)) + time.Microsecond
		}
		if err := c.wait(wait, true); err != nil {
			return err
		}
	}
}

// advance brings a pending acquisition up to now.
func (s *scope) advance(now float64) {
	p := s.pending
	if p == nil {
		return
	}
	if math.IsNaN(p.at) {
		s.search(p, now)
	}
	if math.IsNaN(p.at) || now < p.at+s.time*(1-s.position) {
		return
	}
	s.capture(p.at)
	s.pending, s.state = nil, stateStop
}

// autoAfter is how long an automatic sweep waits for a trigger, s.
const autoAfter = 0.05

// search looks for the trigger in what has passed since it last looked. It cannot
// keep up with a fast sweep for ever: what it does not get round to goes by
// unseen, as between the sweeps of a real one.
func (s *scope) search(p *acquisition, now float64) {
	const chunk, chunks = 4096, 3
	t := &s.trigger
	step := s.interval()
	v := make([]float64, chunk)
	for range chunks {
		if p.searched >= now || t.source == 0 || t.forced {
			break
		}
		n := min(chunk, int((now-p.searched)/step)+2)
		s.look(t.source, v[:n], p.searched, step)
		if i := crossing(v[:n], t.level, t.fall); i > 0 {
			p.at = p.searched + (float64(i)-fraction(v, i, t.level))*step
			return
		}
		p.searched += float64(n-1) * step
	}
	p.searched = max(p.searched, now)
	if t.source == 0 || t.forced || !t.normal && now > p.armed+autoAfter {
		p.at, t.forced = now, false
	}
}

// crossing returns the first sample at or beyond the level after one before it;
// 0 if there is none.
func crossing(v []float64, level float64, fall bool) int {
	for i := 1; i < len(v); i++ {
		if !fall && v[i-1] < level && v[i] >= level || fall && v[i-1] > level && v[i] <= level {
			return i
		}
	}
	return 0
}

// fraction is how much of the last interval lies after the crossing.
func fraction(v []float64, i int, level float64) float64 {
	return (v[i] - level) / (v[i] - v[i-1])
}

// capture takes the records of all channels around a trigger.
func (s *scope) capture(at float64) {
	s.records = map[int]*record{}
	for n := range s.channels {
		s.records[n] = s.take(n, at)
	}
}

// take digitises one channel.
func (s *scope) take(n int, at float64) *record {
	ch := s.channels[n]
	v := make([]float64, s.points)
	origin := -s.time * s.position
	s.look(n, v, at+origin, s.interval())
	full := ch.scale * divisions
	r := &record{
		codes: make([]uint16, len(v)), interval: s.interval(), origin: origin, bits: s.own.Bits,
		low: ch.offset - full/2, step: full / float64(int(1)<<s.own.Bits),
	}
	top := float64(int(1)<<s.own.Bits - 1)
	for i, x := range v {
		x += full * s.own.NoiseRatio * s.chance.NormFloat64()
		r.codes[i] = uint16(max(0, min(top, math.Round((x-r.low)/r.step))))
	}
	return r
}

// look fills v with what the channel shows: the input times the probe factor
// that is set, without its mean if AC coupled.
func (s *scope) look(n int, v []float64, start, step float64) {
	ch, w := s.channels[n], s.wire(n)
	w.fill(v, start, step)
	middle := 0.0
	if ch.ac {
		before := make([]float64, 8000)
		w.fill(before, start-0.08, 1e-5+7e-9) // some fields, off any line rate
		middle = mean(before)
	}
	for i := range v {
		v[i] = (v[i] - middle) * ch.probe
	}
}

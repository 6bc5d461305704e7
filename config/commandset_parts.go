package config

import "soakline/device"

// readListen reads how a talking instrument's lines are understood.
func readListen(s *section) *device.Listen {
	if s == nil {
		return nil
	}
	l := &device.Listen{
		Pattern:     s.text("pattern", required),
		Measure:     s.measure("measure", optional),
		SilentAfter: s.duration("silent_after", optional, defaultSilentAfter),
	}
	for _, at := range s.list("words", optional) {
		word, m := at.text("word", required), at.measure("means", required)
		if _, twice := l.Words[word]; twice {
			at.wrong("word", "%q is explained twice", word)
		}
		if l.Words == nil {
			l.Words = map[string]device.Measure{}
		}
		l.Words[word] = m
		at.done()
	}
	for _, at := range s.list("units", optional) {
		unit, power := at.text("unit", required), at.integer("power", required, 0)
		if _, twice := l.Prefixes[unit]; twice {
			at.wrong("unit", "%q is explained twice", unit)
		}
		if l.Prefixes == nil {
			l.Prefixes = map[string]int{}
		}
		l.Prefixes[unit] = power
		at.done()
	}
	l.Accuracy = readAccuracy(s.sub("accuracy", optional), l.Measure)
	s.done()
	return l
}

// readCapture reads how a scope record is taken.
func readCapture(s *section) *device.CaptureAsk {
	if s == nil {
		return nil
	}
	c := &device.CaptureAsk{
		Arm:          s.texts("arm", optional),
		Data:         s.text("data", required),
		Encoding:     s.text("encoding", required),
		LowByteFirst: s.truth("low_byte_first"),
		Timeout:      s.duration("timeout", optional, 0),
		Coupling:     s.text("coupling", optional),
		CouplingAsk:  s.text("coupling_ask", optional),
		Beside:       s.texts("beside", optional),
		LowCode:      s.integer("low_code", optional, 0),
		HighCode:     s.integer("high_code", optional, 0),
	}
	if at := s.sub("done", optional); at != nil {
		c.Done, c.DoneIs = at.text("send", required), at.text("is", required)
		c.DoneWithin = at.duration("within", optional, defaultDoneWithin)
		at.done()
	}
	for _, at := range s.list("preamble", required) {
		c.Preamble = append(c.Preamble, device.PreambleAsk{
			Gives: at.text("gives", required),
			Send:  at.text("send", required),
			Field: at.integer("field", optional, 0),
		})
		at.done()
	}
	s.done()
	return c
}

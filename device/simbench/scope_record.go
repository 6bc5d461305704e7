package simbench

import (
	"encoding/binary"
	"strconv"
)

// recordFormat is how RECord:DATA? answers.
type recordFormat struct {
	source  int
	format  int // of recordFormats
	swapped bool
	signed  bool
}

// recordFormats are the words of RECord:FORMat.
var recordFormats = []string{"BYTE", "WORD", "ASCii"}

const (
	formatByte = iota
	formatWord
	formatASCII
)

// recordCommands adds what a record is and how it is sent.
func (s *scope) recordCommands(l *commands) {
	l.add("RECord:SOURce", func(c *call) error { return s.source(c, &s.output.source, false) })
	l.add("RECord:SOURce?", func(c *call) error { return c.reply("CHAN%d", s.output.source) })
	s.choice(l, "RECord:FORMat", recordFormats, func(n int) { s.output.format = n },
		func() string { return [...]string{"BYTE", "WORD", "ASC"}[s.output.format] })
	s.choice(l, "RECord:BORDer", []string{"NORMal", "SWAPped"}, func(n int) { s.output.swapped = n == 1 },
		func() string { return either(s.output.swapped, "SWAP", "NORM") })
	s.choice(l, "RECord:SIGNed", []string{"OFF", "ON", "0", "1"}, func(n int) { s.output.signed = n%2 == 1 },
		func() string { return either(s.output.signed, "1", "0") })
	s.preamble(l)
	l.add("RECord:DATA?", func(c *call) error {
		r, err := s.current(c)
		if err != nil {
			return err
		}
		c.answer = s.output.encode(r)
		return nil
	})
}

// current is the record of the chosen source: the one a single acquisition has
// left, or a new one while the scope runs.
func (s *scope) current(c *call) (*record, error) {
	take := s.complete
	if s.state == stateRun {
		take = s.freeRun
	}
	if err := take(c); err != nil {
		return nil, err
	}
	r := s.records[s.output.source]
	if r == nil {
		return nil, failure(-230, "")
	}
	return r, nil
}

// freeRun takes a record while the scope runs and keeps on running.
func (s *scope) freeRun(c *call) error {
	s.pending = newAcquisition(c.now())
	if err := s.complete(c); err != nil {
		s.pending = nil
		return err
	}
	s.state = stateRun
	return nil
}

// preamble adds the queries that tell what a code is worth. They speak of the
// record at hand; without one, of the settings.
func (s *scope) preamble(l *commands) {
	ask := func(header, format string, value func(scaling) any) {
		l.add("RECord:"+header+"?", func(c *call) error { return c.reply(format, value(s.scaling())) })
	}
	ask("POINts", "%d", func(v scaling) any { return v.points })
	ask("XINCrement", "%.9E", func(v scaling) any { return v.xIncrement })
	ask("XORigin", "%+.9E", func(v scaling) any { return v.xOrigin })
	ask("YINCrement", "%.9E", func(v scaling) any { return v.yIncrement })
	ask("YORigin", "%+.9E", func(v scaling) any { return v.yOrigin })
	ask("YREFerence", "%d", func(v scaling) any { return v.yReference })
	l.add("RECord:PREamble?", func(c *call) error {
		v := s.scaling()
		return c.reply("%d,%.9E,%+.9E,%.9E,%+.9E,%d",
			v.points, v.xIncrement, v.xOrigin, v.yIncrement, v.yOrigin, v.yReference)
	})
}

// scaling turns codes into volts and seconds.
type scaling struct {
	points              int
	xIncrement, xOrigin float64
	yIncrement, yOrigin float64
	yReference          int
}

// scaling speaks of the record at hand, whose settings may have been changed
// since; without a record, of the settings.
func (s *scope) scaling() scaling {
	ch := s.channels[s.output.source]
	full := ch.scale * divisions
	v := scaling{points: s.points, xIncrement: s.interval(), xOrigin: -s.time * s.position, yOrigin: ch.offset}
	if r := s.records[s.output.source]; r != nil {
		full = r.step * float64(int(1)<<r.bits)
		v = scaling{points: len(r.codes), xIncrement: r.interval, xOrigin: r.origin, yOrigin: r.low + full/2}
	}
	steps := 1 << 8
	if s.output.format == formatWord {
		steps = 1 << 16
	}
	v.yIncrement = full / float64(steps)
	if !s.output.signed {
		v.yReference = steps / 2
	}
	if s.output.format == formatASCII {
		v.yIncrement, v.yOrigin, v.yReference = 1, 0, 0
	}
	return v
}

// encode answers a record: codes of 8 or 16 bits as a definite-length block
// (IEEE 488.2, 8.7.9), or volts with commas.
func (f recordFormat) encode(r *record) []byte {
	var data []byte
	switch f.format {
	case formatASCII:
		for i, code := range r.codes {
			if i > 0 {
				data = append(data, ',')
			}
			data = strconv.AppendFloat(data, r.low+float64(code)*r.step, 'E', 6, 64)
		}
		return data
	case formatWord:
		for _, code := range r.codes {
			data = f.word(data, code<<(16-r.bits))
		}
	default:
		for _, code := range r.codes {
			data = append(data, byte(code>>(r.bits-8))^f.sign8())
		}
	}
	length := strconv.Itoa(len(data))
	head := "#" + strconv.Itoa(len(length)) + length
	return append([]byte(head), data...)
}

func (f recordFormat) sign8() byte {
	if f.signed {
		return 0x80
	}
	return 0
}

// word appends one 16-bit code: NORMal is most significant byte first (SCPI-1999,
// FORMat:BORDer).
func (f recordFormat) word(to []byte, code uint16) []byte {
	if f.signed {
		code ^= 0x8000
	}
	if f.swapped {
		return binary.LittleEndian.AppendUint16(to, code)
	}
	return binary.BigEndian.AppendUint16(to, code)
}

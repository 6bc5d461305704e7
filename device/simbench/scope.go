package simbench

// scopeChannel is one input's settings.
type scopeChannel struct {
	scale, offset, probe float64
	ac                   bool
}

// divisions is how many divisions the converter's range spans.
const divisions = 10

// volts per division, limits and *RST value; and the record's.
const (
	leastScale, normalScale, mostScale = 1e-3, 0.2, 20
	leastPoints, mostPoints            = 2500, 100000
)

// scope is a digitising oscilloscope with two channels or as many as are wired.
type scope struct {
	*instrument
	own      ScopeConfig
	channels map[int]*scopeChannel

	time     float64 // s, of a whole record
	points   int
	position float64 // share of the record before the trigger

	trigger scopeTrigger
	output  recordFormat

	state   acquireState
	pending *acquisition
	records map[int]*record
}

// acquireState is what ACQuire:STATe? answers.
type acquireState string

const (
	stateRun  acquireState = "RUN"
	stateWait acquireState = "WAIT"
	stateStop acquireState = "STOP"
)

func newScope(in *instrument) *scope {
	s := &scope{instrument: in, own: *in.config.Scope, channels: map[int]*scopeChannel{1: {}, 2: {}}}
	for _, w := range in.config.Wiring {
		s.channels[w.Channel] = &scopeChannel{}
	}
	s.reset()
	return s
}

func (s *scope) reset() {
	for _, ch := range s.channels {
		*ch = scopeChannel{scale: normalScale, probe: 1}
	}
	s.time, s.points, s.position = 100e-6, leastPoints, 0.1
	s.trigger = scopeTrigger{source: 1}
	s.output = recordFormat{source: 1}
	s.state, s.pending, s.records = stateRun, nil, map[int]*record{}
}

func (s *scope) commands(l *commands) {
	s.channelCommands(l)
	s.sweepCommands(l)
	s.triggerCommands(l)
	s.recordCommands(l)
	s.measureCommands(l)
}

// channel finds the channel of a header's suffix.
func (s *scope) channel(c *call) (*scopeChannel, error) {
	ch := s.channels[c.suffixes[0]]
	if ch == nil {
		return nil, failure(-114, c.header)
	}
	return ch, c.want(0, 1)
}

// setting adds a number with its query.
func (s *scope) setting(l *commands, header, unit string, low, normal, high float64, at func(*call) (*float64, error)) {
	l.add(header, func(c *call) error {
		to, err := at(c)
		if err != nil {
			return err
		}
		if err := c.want(1, 1); err != nil {
			return err
		}
		v, err := c.decimal(0, unit, low, normal, high)
		if err == nil {
			*to = v
		}
		return err
	})
	l.add(header+"?", func(c *call) error {
		from, err := at(c)
		if err != nil {
			return err
		}
		return c.reply("%+.6E", *from)
	})
}

// channelCommands adds the inputs' settings.
func (s *scope) channelCommands(l *commands) {
	field := func(pick func(*scopeChannel) *float64) func(*call) (*float64, error) {
		return func(c *call) (*float64, error) {
			ch, err := s.channel(c)
			if err != nil {
				return nil, err
			}
			return pick(ch), nil
		}
	}
	s.setting(l, "CHANnel#:SCALe", "V", leastScale, normalScale, mostScale,
		field(func(ch *scopeChannel) *float64 { return &ch.scale }))
	s.setting(l, "CHANnel#:OFFSet", "V", -50, 0, 50,
		field(func(ch *scopeChannel) *float64 { return &ch.offset }))
	s.setting(l, "CHANnel#:PROBe", "", 0.1, 1, 1000,
		field(func(ch *scopeChannel) *float64 { return &ch.probe }))
	l.add("CHANnel#:COUPling", func(c *call) error {
		ch, err := s.channel(c)
		if err != nil {
			return err
		}
		if err := c.want(1, 1); err != nil {
			return err
		}
		n, err := c.word(0, "DC", "AC")
		if err == nil {
			ch.ac = n == 1
		}
		return err
	})
	l.add("CHANnel#:COUPling?", func(c *call) error {
		ch, err := s.channel(c)
		if err != nil {
			return err
		}
		return c.reply("%s", either(ch.ac, "AC", "DC"))
	})
}

// sweepCommands adds the time axis. A change holds for the next record.
func (s *scope) sweepCommands(l *commands) {
	s.setting(l, "SWEep:TIME", "S", 1e-6, 100e-6, 10, func(*call) (*float64, error) { return &s.time, nil })
	s.setting(l, "SWEep:POSition", "", 0, 0.1, 1, func(*call) (*float64, error) { return &s.position, nil })
	l.add("SWEep:POINts", func(c *call) error {
		if err := c.want(1, 1); err != nil {
			return err
		}
		v, err := c.decimal(0, "", leastPoints, leastPoints, mostPoints)
		if err == nil {
			s.points = int(v)
		}
		return err
	})
	l.add("SWEep:POINts?", func(c *call) error { return c.reply("%d", s.points) })
	l.add("SWEep:TINTerval?", func(c *call) error { return c.reply("%.9E", s.interval()) })
}

// interval is the time from sample to sample, s.
func (s *scope) interval() float64 { return s.time / float64(s.points) }

func either(first bool, a, b string) string {
	if first {
		return a
	}
	return b
}

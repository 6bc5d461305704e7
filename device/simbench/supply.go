package simbench

import "math"

// supply is a bench supply with a constant voltage and a constant current limit.
type supply struct {
	*instrument
	own         SupplyConfig
	feeds       *unit
	volts, amps float64
	on          bool
}

func newSupply(in *instrument, feeds *unit) *supply {
	own := *in.config.Supply
	if feeds != nil && !own.OutputOn {
		feeds.reservoir.empty()
	}
	return &supply{instrument: in, own: own, feeds: feeds, volts: own.SetV, amps: own.SetA, on: own.OutputOn}
}

// reset turns the output off, and with it the unit that it feeds.
func (s *supply) reset() {
	s.volts, s.amps = 0, s.own.MaxA
	s.switchOutput(false)
}

// switchOutput also switches the unit that the output feeds.
func (s *supply) switchOutput(on bool) {
	s.on = on
	if s.feeds != nil {
		s.feeds.power(on, s.now())
	}
}

func (s *supply) commands(l *commands) {
	l.add("*OPC?", operationComplete)
	const level = "[:LEVel][:IMMediate][:AMPLitude]"
	l.add("[SOURce:]VOLTage"+level, func(c *call) error { return s.set(c, &s.volts, "V", s.own.MaxV) })
	l.add("[SOURce:]VOLTage"+level+"?", func(c *call) error { return c.reply("%s", nr3(s.volts, 1e-3)) })
	l.add("[SOURce:]CURRent"+level, func(c *call) error { return s.set(c, &s.amps, "A", s.own.MaxA) })
	l.add("[SOURce:]CURRent"+level+"?", func(c *call) error { return c.reply("%s", nr3(s.amps, 1e-3)) })
	l.add("OUTPut[:STATe]", func(c *call) error {
		if err := c.want(1, 1); err != nil {
			return err
		}
		on, err := c.onOff(0)
		if err == nil && !s.faults.active("stuck", s.now()) {
			s.switchOutput(on)
		}
		return err
	})
	l.add("OUTPut[:STATe]?", func(c *call) error {
		if s.on {
			return c.reply("1")
		}
		return c.reply("0")
	})
	l.add("MEASure[:SCALar]:VOLTage[:DC]?", func(c *call) error { return s.measured(c, 1, 0) })
	l.add("MEASure[:SCALar]:CURRent[:DC]?", func(c *call) error { return s.measured(c, 0, 1) })
	l.add("MEASure[:SCALar]:POWer[:DC]?", func(c *call) error { return s.measured(c, 1, 1) })
}

// set takes a level from 0 to what the supply can give.
func (s *supply) set(c *call, to *float64, unit string, high float64) error {
	if err := c.want(1, 1); err != nil {
		return err
	}
	v, err := c.decimal(0, unit, 0, 0, high)
	if err == nil {
		*to = v
	}
	return err
}

// measured answers volts to one power times amperes to another, with the noise
// of a 12-bit converter.
func (s *supply) measured(c *call, volt, ampere float64) error {
	v, a := s.output()
	v = max(0, v+s.own.MaxV/16384*s.chance.NormFloat64())
	a = max(0, a+s.own.MaxA/16384*s.chance.NormFloat64())
	c.number = true
	return c.reply("%s", nr3(math.Pow(v, volt)*math.Pow(a, ampere), 1e-4))
}

// output is what the load makes of the settings.
func (s *supply) output() (volts, amperes float64) {
	if !s.on {
		return 0, 0
	}
	amperes = min(s.volts/s.own.LoadOhm, s.amps)
	return amperes * s.own.LoadOhm, amperes
}

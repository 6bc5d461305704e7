package simbench

// commonCommands are those that every instrument has: IEEE 488.2 clause 10 and
// SCPI's error query.
func commonCommands(l *commands) {
	l.add("*IDN?", func(c *call) error { return c.reply("%s", c.config.Identity) })
	l.add("*RST", func(c *call) error { c.machine.reset(); return nil })
	l.add("*CLS", func(c *call) error {
		c.queue, c.event = nil, 0
		return nil
	})
	l.add("*OPC", func(c *call) error { c.event |= bitOperationComplete; return nil })
	l.add("*ESR?", func(c *call) error {
		event := c.event
		c.event = 0
		return c.reply("%d", event)
	})
	l.add("*ESE", func(c *call) error { return c.register(&c.eventEnable) })
	l.add("*ESE?", func(c *call) error { return c.reply("%d", c.eventEnable) })
	l.add("*SRE", func(c *call) error { return c.register(&c.serviceEnable) })
	l.add("*SRE?", func(c *call) error { return c.reply("%d", c.serviceEnable) })
	l.add("*STB?", func(c *call) error { return c.reply("%d", c.byte()) })
	l.add("*TST?", func(c *call) error { return c.reply("0") })
	l.add("*WAI", func(*call) error { return nil })
	l.add("SYSTem:ERRor[:NEXT]?", func(c *call) error { return c.reply("%s", c.status.next()) })
	l.add("SYSTem:VERSion?", func(c *call) error { return c.reply("1999.0") })
}

// operationComplete is *OPC? of an instrument that never has operations pending.
func operationComplete(c *call) error { return c.reply("1") }

// register sets an enable register of eight bits.
func (c *call) register(to *int) error {
	if err := c.want(1, 1); err != nil {
		return err
	}
	v, err := c.decimal(0, "", 0, 0, 255)
	if err == nil {
		*to = int(v)
	}
	return err
}

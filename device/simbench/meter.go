package simbench

import (
	"math"
	"time"
)

// function is what a meter measures.
type function string

const (
	dcVolts     function = "VOLT"
	acVolts     function = "VOLT:AC"
	dcAmperes   function = "CURR"
	ohms        function = "RES"
	hertz       function = "FREQ"
	temperature function = "TEMP"
)

// meter is a 6.5 digit meter with a scanner before its input.
type meter struct {
	*instrument
	own         MeterConfig
	mainsHz     float64
	integration time.Duration
	function    function
	rangeValue  float64 // 0: chosen by the meter
	channel     int
	reading     float64
	fresh       bool
	samples     []float64
}

func newMeter(in *instrument, mainsHz float64) *meter {
	m := &meter{instrument: in, own: *in.config.Meter, mainsHz: mainsHz}
	m.channel = lowestChannel(in.config.Wiring)
	m.reset()
	return m
}

// lowestChannel is what the input shows before the scanner is told anything.
func lowestChannel(wiring []WireConfig) int {
	lowest := 0
	for _, w := range wiring {
		if lowest == 0 || w.Channel < lowest {
			lowest = w.Channel
		}
	}
	return lowest
}

// reset leaves the scanner alone: what is wired stays wired.
func (m *meter) reset() {
	m.integration = time.Duration(m.own.IntegrationS * float64(time.Second))
	m.function, m.rangeValue, m.fresh = dcVolts, 0, false
}

func (m *meter) commands(l *commands) {
	l.add("*OPC?", operationComplete)
	for header, f := range map[string]function{
		"VOLTage[:DC]": dcVolts, "VOLTage:AC": acVolts, "CURRent[:DC]": dcAmperes,
		"RESistance": ohms, "FREQuency": hertz, "TEMPerature": temperature,
	} {
		l.add("MEASure[:SCALar]:"+header+"?", func(c *call) error {
			if err := m.configure(c, f); err != nil {
				return err
			}
			return m.read(c)
		})
		l.add("CONFigure[:SCALar]:"+header, func(c *call) error { return m.configure(c, f) })
	}
	l.add("CONFigure?", func(c *call) error { return c.reply(`"%s"`, m.function) })
	l.add("READ?", m.read)
	l.add("INITiate[:IMMediate]", m.initiate)
	l.add("FETCh?", m.fetch)
	l.add("ABORt", func(*call) error { return nil })
	l.add("ROUTe:CLOSe", m.close)
	l.add("ROUTe:CLOSe?", m.closed)
	l.add("ROUTe:OPEN:ALL", func(*call) error { m.channel = 0; m.fresh = false; return nil })
	l.add("[SENSe:]VOLTage[:DC]:NPLCycles", m.setCycles)
	l.add("[SENSe:]VOLTage[:DC]:NPLCycles?", func(c *call) error {
		return c.reply("%s", nr3(m.integration.Seconds()*m.mainsHz, 1e-4))
	})
}

// configure takes an optional range and resolution; the resolution is accepted
// and follows from the range. Any reading from before is stale.
func (m *meter) configure(c *call, f function) error {
	if err := c.want(0, 2); err != nil {
		return err
	}
	chosen := 0.0
	if len(c.args) > 0 && c.args[0] != "" {
		v, err := c.decimal(0, unitOf(f), 0, 0, 1e9)
		if err != nil {
			return err
		}
		chosen = v
	}
	m.function, m.rangeValue, m.fresh = f, chosen, false
	return nil
}

// unitOf is the suffix that a function's range may carry.
func unitOf(f function) string {
	return map[function]string{dcVolts: "V", acVolts: "V", dcAmperes: "A", ohms: "OHM", hertz: "HZ"}[f]
}

func (m *meter) read(c *call) error {
	if err := m.initiate(c); err != nil {
		return err
	}
	return m.fetch(c)
}

// initiate takes one reading: it waits for the integration and looks back on it.
func (m *meter) initiate(c *call) error {
	if err := c.wait(m.integration, false); err != nil {
		return err
	}
	m.reading, m.fresh = m.measure(c.now()), true
	return nil
}

// fetch answers the last reading; without one it is -230 (SCPI-1999, FETCh?).
func (m *meter) fetch(c *call) error {
	if !m.fresh {
		return failure(-230, "")
	}
	c.number = true
	return c.reply("%s", m.display(m.reading))
}

// close connects one channel and lets go of the one before. A reading of another
// channel must not be fetched any more.
func (m *meter) close(c *call) error {
	if err := c.want(1, 1); err != nil {
		return err
	}
	channels, err := c.channels(0)
	if err != nil {
		return err
	}
	if len(channels) != 1 {
		return failure(-221, "one channel at a time")
	}
	if m.wire(channels[0]) == nil {
		return failure(-222, c.args[0])
	}
	if channels[0] != m.channel {
		m.fresh = false
	}
	m.channel = channels[0]
	return nil
}

// closed answers 1 or 0 for each channel asked about.
func (m *meter) closed(c *call) error {
	if err := c.want(1, 1); err != nil {
		return err
	}
	channels, err := c.channels(0)
	if err != nil {
		return err
	}
	text := ""
	for i, ch := range channels {
		if i > 0 {
			text += ","
		}
		if ch == m.channel {
			text += "1"
		} else {
			text += "0"
		}
	}
	return c.reply("%s", text)
}

// setCycles sets the integration in mains periods.
func (m *meter) setCycles(c *call) error {
	if err := c.want(1, 1); err != nil {
		return err
	}
	v, err := c.decimal(0, "", 0.02, 10, 100)
	if err == nil {
		m.integration = time.Duration(v / m.mainsHz * float64(time.Second))
	}
	return err
}

// display rounds a reading to what the range resolves; out of range it is
// infinity, with nothing to measure not a number.
func (m *meter) display(v float64) string {
	if math.IsNaN(v) {
		return "9.91E37"
	}
	full := m.rangeValue
	if full == 0 {
		full = math.Inf(1)
	}
	full = chooseRange(m.function, math.Abs(v), full)
	switch {
	case v > full*1.2:
		return "9.9E37"
	case v < -full*1.2:
		return "-9.9E37"
	}
	return nr3(v, full*1e-6)
}

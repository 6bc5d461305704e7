package config

import (
	"time"

	"soakline/device"
)

// What a command set's file need not say. Serial settings: 9600 8N1 and LF are
// common practice, no source.
const (
	defaultBaud        = 9600
	defaultDoneWithin  = 5 * time.Second
	defaultSilentAfter = 3 * time.Second
)

// ParseCommandSet reads the text of a command set's file. The name is the file's,
// for messages; the set names itself inside.
func ParseCommandSet(name string, text []byte) (device.CommandSet, error) {
	d := parse(name, text)
	set := d.commandSet()
	return set, joined(d)
}

// commandSet reads the whole document as a command set. What is left out of the
// file is left at the zero value, which the set's own type explains, or at the
// defaults above.
func (d *document) commandSet() device.CommandSet {
	s := d.top()
	if s == nil {
		return device.CommandSet{}
	}
	set := device.CommandSet{
		Name:    s.text("name", required),
		About:   s.text("about", optional),
		Line:    readLine(s.sub("line", optional), defaultLine()),
		Prepare: s.texts("prepare", optional),
		Release: s.texts("release", optional),
		Listen:  readListen(s.sub("listen", optional)),
		Capture: readCapture(s.sub("capture", optional)),

		AudioCapture:  readCapture(s.sub("audio_capture", optional)),
		RippleCapture: readCapture(s.sub("ripple_capture", optional)),
		Output:        readOutput(s.sub("output", optional)),
	}
	if at := s.sub("identify", optional); at != nil {
		set.Identify, set.IdentifyPattern = at.text("send", required), at.text("pattern", optional)
		at.done()
	}
	if at := s.sub("select", optional); at != nil {
		set.Select, set.SelectSettle = at.text("send", required), at.duration("settle", optional, 0)
		at.done()
	}
	if at := s.sub("error_check", optional); at != nil {
		set.ErrorCheck = device.ErrorCheck{Send: at.text("send", required), Every: at.duration("every", optional, 0)}
		at.done()
	}
	for _, at := range s.list("asks", optional) {
		set.Asks = append(set.Asks, readAsk(at))
	}
	s.done()
	d.validate("", set.Validate())
	return set
}

// defaultLine is how a serial line is set where neither command set nor bench says
// otherwise.
func defaultLine() device.LineSettings {
	return device.LineSettings{
		Baud: defaultBaud, DataBits: 8, Parity: "none", StopBits: "1", Flow: "none", SendEnding: "lf",
	}
}

// readLine reads how a serial line is set, on top of what is so far.
func readLine(s *section, so device.LineSettings) device.LineSettings {
	if s == nil {
		return so
	}
	so = device.LineSettings{
		Baud:       s.integer("baud", optional, so.Baud),
		DataBits:   s.integer("data_bits", optional, so.DataBits),
		Parity:     s.textOr("parity", so.Parity),
		StopBits:   s.textOr("stop_bits", so.StopBits),
		Flow:       s.textOr("flow", so.Flow),
		SendEnding: s.textOr("ending", so.SendEnding),
	}
	s.done()
	return so
}

// readAsk reads one question. The measure comes first because it decides the unit
// that the accuracy clause is in.
func readAsk(s *section) device.Ask {
	if s == nil {
		return device.Ask{}
	}
	m := s.measure("measure", required)
	ask := device.Ask{
		Measure:    m,
		Send:       s.text("send", required),
		Field:      s.integer("field", optional, 0),
		ScalePower: s.integer("scale_power", optional, 0),
		Suffix:     s.text("suffix", optional),
		Timeout:    s.duration("timeout", optional, 0),
		Accuracy:   readAccuracy(s.sub("accuracy", optional), m),
	}
	s.done()
	return ask
}

// readAccuracy reads an accuracy clause: percentages of reading and of range, the
// range and the resolution in the measure's unit.
func readAccuracy(s *section, m device.Measure) device.Accuracy {
	if s == nil {
		return device.Accuracy{}
	}
	a := accuracyKeys(s, m)
	s.done()
	return a
}

// accuracyKeys is readAccuracy without the end, for a section that holds the
// measure besides.
func accuracyKeys(s *section, m device.Measure) device.Accuracy {
	return device.Accuracy{
		PercentOfReading: s.number("of_reading_pct", optional, 0),
		PercentOfRange:   s.number("of_range_pct", optional, 0),
		Range:            s.quantity("range", m, optional, 0),
		Resolution:       s.quantity("resolution", m, optional, 0),
	}
}

// readOutput reads how an output is switched. Neither is ever sent unless somebody
// asks for it.
func readOutput(s *section) *device.OutputSwitch {
	if s == nil {
		return nil
	}
	o := &device.OutputSwitch{On: s.text("on", required), Off: s.text("off", required), Ask: s.text("ask", optional)}
	if o.Ask != "" {
		o.OnIs, o.OffIs = s.textOr("on_is", "1"), s.textOr("off_is", "0")
	}
	s.done()
	return o
}

package device

import "time"

// CommandSet is how a kind of instrument is asked, as data: nothing in this
// program knows an instrument's words. It is plain; Validate says what is wrong.
type CommandSet struct {
	Name string
	// About says in one line which instruments it suits.
	About string
	// Line is how the serial line is set unless the bench says otherwise.
	Line LineSettings
	// Identify is sent to learn who answers ("*IDN?"); empty for an instrument
	// that cannot be asked. IdentifyPattern, if set, is a regular expression that
	// the answer must match.
	Identify        string
	IdentifyPattern string
	// Prepare is sent, one message each, once the instrument has answered;
	// Release when the daemon lets go of it.
	Prepare, Release []string
	// Select is sent before an ask when a channel is named, with {channel}
	// replaced ("ROUTe:CLOSe (@{channel})"); SelectSettle is waited after it.
	// A channel that is already selected is not selected again.
	Select       string
	SelectSettle time.Duration
	// Asks are the questions, at most one per measure.
	Asks []Ask
	// ErrorCheck drains the instrument's error queue; the zero value never asks.
	ErrorCheck ErrorCheck
	// Listen, if not nil, describes an instrument that talks without being asked.
	Listen *Listen
	// Capture, if not nil, describes how a scope record is taken; AudioCapture one
	// of an audio output and RippleCapture one of a reservoir's ripple, which last
	// longer at a lower rate.
	Capture, AudioCapture, RippleCapture *CaptureAsk
	// Output, if not nil, describes an output that can be switched.
	Output *OutputSwitch
}

// LineSettings is how a serial line is set.
type LineSettings struct {
	Baud     int    // bits per second
	DataBits int    // 5 to 8
	Parity   string // "none", "odd", "even", "mark", "space"
	StopBits string // "1", "1.5", "2"
	Flow     string // "none", "rts-cts"
	// SendEnding ends what is sent: "lf", "cr", "crlf". Answers may end in any of
	// LF and CR LF; "cr" here also takes a bare CR as the end of an answer.
	SendEnding string
}

// Ask is one question.
type Ask struct {
	Measure Measure
	// Send is the query without its ending; {channel} is replaced.
	Send string
	// Field is which comma-separated answer counts, from 0.
	Field int
	// ScalePower is the power of ten that turns the answer into the measure's
	// SI unit: -3 for an answer in millivolts. Exact on the digits sent.
	ScalePower int
	// Suffix, if set, is a unit suffix that the answer carries after the number
	// and that is taken off ("V", "VDC").
	Suffix string
	// Timeout is how long an answer may take; 0 means 2 s.
	Timeout time.Duration
	// Accuracy is the instrument's clause for this measure.
	Accuracy Accuracy
}

// Accuracy is an instrument's accuracy clause: ± (PercentOfReading % of the
// reading + PercentOfRange % of Range), taken as the half width of a rectangular
// distribution (JCGM 100:2008, 4.3.7). All zero where none is given.
type Accuracy struct {
	PercentOfReading float64
	PercentOfRange   float64
	// Range is the full scale in the measure's unit.
	Range float64
	// Resolution is one step of the last digit in the measure's unit; 0 means
	// that the digits sent tell it.
	Resolution float64
}

// ErrorCheck is how and how often an instrument's error queue is drained.
type ErrorCheck struct {
	Send  string        // "SYSTem:ERRor?"
	Every time.Duration // 0: only after Prepare and after trouble
}

// Listen describes an instrument that sends lines unasked.
type Listen struct {
	// Pattern is a regular expression with a group named value, and optionally
	// groups named channel, measure and unit; a line that does not match is
	// garbage.
	Pattern string
	// Measure is what a line means unless a group says otherwise.
	Measure Measure
	// Words translates what the measure group caught into a measure.
	Words map[string]Measure
	// Prefixes translates what the unit group caught into a power of ten on
	// the measure's SI unit: {"mV": -3, "V": 0}.
	Prefixes map[string]int
	// SilentAfter is how long no line may come before it is silence.
	SilentAfter time.Duration
	Accuracy    Accuracy
}

// CaptureAsk is how one scope record is taken over the line. {channel} is
// replaced in every message.
type CaptureAsk struct {
	// Arm is sent first, one message each: trigger, format, single acquisition.
	Arm []string
	// Done is asked until it answers DoneIs, for at most DoneWithin.
	Done       string
	DoneIs     string
	DoneWithin time.Duration
	// Preamble are questions that each give one number that scales the record.
	Preamble []PreambleAsk
	// Data is the question that the record answers, as a definite-length block
	// or as comma-separated numbers.
	Data string
	// Encoding is "uint8", "int8", "uint16", "int16", "float32" or "ascii".
	Encoding string
	// LowByteFirst is the byte order of 16- and 32-bit samples.
	LowByteFirst bool
	// Timeout is how long the data may take; 0 means 10 s. A code is worth
	// (code - y-reference) * y-increment + y-origin volts.
	Timeout time.Duration
	// Coupling is "dc" or "ac" where the set fixes it, else CouplingAsk asks.
	Coupling    string
	CouplingAsk string
	// Beside is sent to turn to the record of another channel, taken at once with
	// the first; the preamble, data and coupling are asked again then.
	Beside []string
	// LowCode and HighCode are the codes at which the record is clipped by the
	// range; both 0 where unknown.
	LowCode, HighCode int
}

// PreambleAsk is one question before a record's data.
type PreambleAsk struct {
	// Gives is "x-increment" (s), "y-increment" (V per code), "y-origin" (V),
	// "y-reference" (code) or "probe" (factor already applied by the scope: 1).
	Gives string
	Send  string
	Field int
}

// OutputSwitch is how an instrument's output is switched.
type OutputSwitch struct {
	On, Off string // "OUTPut ON", "OUTPut OFF"
	// Ask, if not empty, asks how the output is; OnIs and OffIs are its answers
	// ("OUTPut?", "1", "0"). An output that says otherwise was not switched.
	Ask, OnIs, OffIs string
}

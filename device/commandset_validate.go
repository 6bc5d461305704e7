package device

import (
	"errors"
	"fmt"
	"math"
	"regexp"
	"slices"
	"strings"
	"time"
)

// fault gathers what is wrong with a piece of plain data, each with its path.
type fault struct{ all []error }

func (f *fault) add(path string, err error) {
	f.all = append(f.all, &PathError{Path: path, Err: err})
}

func (f *fault) addf(path, format string, args ...any) { f.add(path, fmt.Errorf(format, args...)) }

// oneOf reports a value that is not among known.
func (f *fault) oneOf(path, kind, value string, known ...string) {
	if !slices.Contains(known, value) {
		f.add(path, &NameError{Kind: kind, Name: value, Known: known})
	}
}

// measure reports a measure that is not in the table of measures.
func (f *fault) measure(path string, m Measure) {
	if m.Known() {
		return
	}
	var known []string
	for _, m := range Measures() {
		known = append(known, string(m))
	}
	f.add(path, &NameError{Kind: "measure", Name: string(m), Known: known})
}

// notNegative reports a duration below zero.
func (f *fault) notNegative(path string, d time.Duration) {
	if d < 0 {
		f.addf(path, "%s is negative", d)
	}
}

var placeholder = regexp.MustCompile(`\{[^{}]*\}`)

// message reports what cannot be sent as one program message: nothing at all, a
// line end in its midst (the port adds the ending), or a placeholder that nobody
// fills in.
func (f *fault) message(path, text string) {
	if strings.TrimSpace(text) == "" {
		f.addf(path, "there is nothing to send")
	}
	if i := strings.IndexFunc(text, func(r rune) bool { return r < ' ' && r != '\t' || r == 0x7f }); i >= 0 {
		f.addf(path, "%q holds a control character: one message a line, its ending is added by itself", text)
	}
	for _, p := range placeholder.FindAllString(text, -1) {
		if p != "{channel}" {
			f.add(path, &NameError{Kind: "placeholder", Name: p, Known: []string{"{channel}"}})
		}
	}
}

func (f *fault) messages(path string, texts []string) {
	for i, text := range texts {
		f.message(fmt.Sprintf("%s[%d]", path, i), text)
	}
}

// optional is message for one that may be left out.
func (f *fault) optional(path, text string) {
	if text != "" {
		f.message(path, text)
	}
}

// Validate says everything that is wrong with the set, joined; each error is a
// *PathError whose path is spelled as in a command set's file.
func (c CommandSet) Validate() error {
	f := &fault{}
	if c.Name == "" {
		f.addf("name", "the set has no name")
	}
	c.Line.check(f, "line.")
	f.optional("identify.send", c.Identify)
	f.pattern("identify.pattern", c.IdentifyPattern)
	if c.IdentifyPattern != "" && c.Identify == "" {
		f.addf("identify.pattern", "a pattern needs something to send")
	}
	f.messages("prepare", c.Prepare)
	f.messages("release", c.Release)
	f.optional("select.send", c.Select)
	f.notNegative("select.settle", c.SelectSettle)
	f.optional("error_check.send", c.ErrorCheck.Send)
	f.notNegative("error_check.every", c.ErrorCheck.Every)
	c.checkAsks(f)
	if c.Listen != nil {
		c.Listen.check(f)
	}
	if c.Capture != nil {
		c.Capture.check(f, "capture")
	}
	if c.AudioCapture != nil {
		c.AudioCapture.check(f, "audio_capture")
	}
	if c.RippleCapture != nil {
		c.RippleCapture.check(f, "ripple_capture")
	}
	if c.Output != nil {
		f.message("output.on", c.Output.On)
		f.message("output.off", c.Output.Off)
		f.optional("output.ask", c.Output.Ask)
		if c.Output.Ask != "" && c.Output.OnIs == c.Output.OffIs {
			f.addf("output.off_is", "%q is what on_is is as well: the answer would not tell", c.Output.OffIs)
		}
	}
	if len(c.Asks) == 0 && c.Listen == nil && c.Capture == nil && c.AudioCapture == nil && c.RippleCapture == nil && c.Output == nil {
		f.addf("asks", "the set asks nothing, listens to nothing and switches nothing")
	}
	return errors.Join(f.all...)
}

func (c CommandSet) checkAsks(f *fault) {
	seen := map[Measure]int{}
	for i, a := range c.Asks {
		at := fmt.Sprintf("asks[%d].", i)
		f.measure(at+"measure", a.Measure)
		if first, twice := seen[a.Measure]; twice {
			f.addf(at+"measure", "%s is asked for already by asks[%d]; one question a measure", a.Measure, first)
		} else {
			seen[a.Measure] = i
		}
		f.message(at+"send", a.Send)
		if a.Field < 0 {
			f.addf(at+"field", "%d is negative; fields count from 0", a.Field)
		}
		f.power(at+"scale_power", a.ScalePower)
		f.notNegative(at+"timeout", a.Timeout)
		a.Accuracy.check(f, at+"accuracy.", a.Measure.Unit())
	}
}

// power reports a power of ten that no SI prefix has: those end at ±30 (BIPM, SI
// Brochure 9th ed., table 7).
func (f *fault) power(path string, p int) {
	if p < -30 || p > 30 {
		f.addf(path, "10 to the power of %d is beyond every SI prefix (-30 to 30)", p)
	}
}

func (f *fault) pattern(path, text string, groups ...string) {
	re, err := regexp.Compile(text)
	if err != nil {
		f.addf(path, "%q is no regular expression: %s", text, strings.TrimPrefix(err.Error(), "error parsing regexp: "))
		return
	}
	for _, g := range groups {
		if re.SubexpIndex(g) < 0 {
			f.addf(path, "the pattern needs a group (?P<%s>...)", g)
		}
	}
}

// Validate says what is wrong with the settings, each with its path within them.
func (l LineSettings) Validate() error {
	f := &fault{}
	l.check(f, "")
	return errors.Join(f.all...)
}

func (l LineSettings) check(f *fault, at string) {
	if l.Baud <= 0 {
		f.addf(at+"baud", "%d bits per second is no speed", l.Baud)
	}
	if l.DataBits < 5 || l.DataBits > 8 {
		f.addf(at+"data_bits", "%d is not 5, 6, 7 or 8", l.DataBits)
	}
	f.oneOf(at+"parity", "parity", l.Parity, "none", "odd", "even", "mark", "space")
	f.oneOf(at+"stop_bits", "number of stop bits", l.StopBits, "1", "1.5", "2")
	f.oneOf(at+"flow", "flow control", l.Flow, "none", "rts-cts")
	f.oneOf(at+"ending", "ending", l.SendEnding, "lf", "cr", "crlf")
}

// Validate says what is wrong with the clause of a measure in unit, each with its
// path within the clause.
func (a Accuracy) Validate(unit Unit) error {
	f := &fault{}
	a.check(f, "", unit)
	return errors.Join(f.all...)
}

// check reports an accuracy clause that cannot be one; unit is the measure's, whose
// suffix the keys end in.
func (a Accuracy) check(f *fault, at string, unit Unit) {
	figures := []struct {
		key   string
		value float64
	}{
		{"of_reading_pct", a.PercentOfReading},
		{"of_range_pct", a.PercentOfRange},
		{"range" + unit.KeySuffix, a.Range},
		{"resolution" + unit.KeySuffix, a.Resolution},
	}
	for _, q := range figures {
		if math.IsNaN(q.value) || math.IsInf(q.value, 0) || q.value < 0 {
			f.addf(at+q.key, "%v is not a finite figure of 0 or more", q.value)
		}
	}
	if a.PercentOfRange > 0 && a.Range == 0 {
		f.addf(at+"of_range_pct", "a share of the range needs the range: add range%s", unit.KeySuffix)
	}
}

package device

import (
	"fmt"
	"maps"
	"math"
	"slices"
)

func (l *Listen) check(f *fault) {
	if l.Pattern == "" {
		f.addf("listen.pattern", "without a pattern no line can be read")
	} else {
		f.pattern("listen.pattern", l.Pattern, "value")
	}
	if l.Measure != "" || len(l.Words) == 0 {
		f.measure("listen.measure", l.Measure)
	}
	for _, word := range slices.Sorted(maps.Keys(l.Words)) {
		f.measure("listen.words", l.Words[word])
	}
	for _, unit := range slices.Sorted(maps.Keys(l.Prefixes)) {
		f.power("listen.units", l.Prefixes[unit])
	}
	if l.SilentAfter <= 0 {
		f.addf("listen.silent_after", "%s is no time to wait for a line", l.SilentAfter)
	}
	l.Accuracy.check(f, "listen.accuracy.", l.Measure.Unit())
}

// codes are the ends of what one sample of an encoding can be.
var codes = map[string][2]float64{
	"uint8": {0, math.MaxUint8}, "int8": {math.MinInt8, math.MaxInt8},
	"uint16": {0, math.MaxUint16}, "int16": {math.MinInt16, math.MaxInt16},
	"float32": {math.Inf(-1), math.Inf(1)}, "ascii": {math.Inf(-1), math.Inf(1)},
}

// check reports what is wrong; at is the key that the file has it under.
func (c *CaptureAsk) check(f *fault, at string) {
	f.messages(at+".arm", c.Arm)
	if c.Done != "" || c.DoneIs != "" {
		f.message(at+".done.send", c.Done)
		if c.DoneIs == "" {
			f.addf(at+".done.is", "say which answer means that the record is there")
		}
		if c.DoneWithin <= 0 {
			f.addf(at+".done.within", "%s is no time to wait", c.DoneWithin)
		}
	}
	c.checkPreamble(f, at)
	f.message(at+".data", c.Data)
	f.oneOf(at+".encoding", "encoding", c.Encoding, slices.Sorted(maps.Keys(codes))...)
	f.notNegative(at+".timeout", c.Timeout)
	if c.Coupling != "" {
		f.oneOf(at+".coupling", "coupling", c.Coupling, "dc", "ac")
	}
	f.optional(at+".coupling_ask", c.CouplingAsk)
	if c.Coupling != "" && c.CouplingAsk != "" {
		f.addf(at+".coupling_ask", "the coupling is fixed already by %s.coupling", at)
	}
	f.messages(at+".beside", c.Beside)
	c.checkCodes(f, at)
}

func (c *CaptureAsk) checkPreamble(f *fault, under string) {
	seen := map[string]bool{}
	for i, p := range c.Preamble {
		at := fmt.Sprintf("%s.preamble[%d].", under, i)
		f.oneOf(at+"gives", "preamble figure", p.Gives, "x-increment", "y-increment", "y-origin", "y-reference", "probe")
		if seen[p.Gives] {
			f.addf(at+"gives", "%s is given twice", p.Gives)
		}
		seen[p.Gives] = true
		f.message(at+"send", p.Send)
		if p.Field < 0 {
			f.addf(at+"field", "%d is negative; fields count from 0", p.Field)
		}
	}
	if !seen["x-increment"] {
		f.addf(under+".preamble", "nothing gives the x-increment (the time between two samples)")
	}
	if lo, hi := c.codeRange(); lo > math.Inf(-1) && hi < math.Inf(1) && !seen["y-increment"] {
		f.addf(under+".preamble", "nothing gives the y-increment (the volts of one code)")
	}
}

func (c *CaptureAsk) codeRange() (low, high float64) {
	r, ok := codes[c.Encoding]
	if !ok {
		return math.Inf(-1), math.Inf(1)
	}
	return r[0], r[1]
}

// checkCodes reports clipping codes that no sample of the encoding can have.
func (c *CaptureAsk) checkCodes(f *fault, at string) {
	if c.LowCode == 0 && c.HighCode == 0 {
		return
	}
	lo, hi := c.codeRange()
	if float64(c.LowCode) < lo {
		f.addf(at+".low_code", "%d is below what %s can hold", c.LowCode, c.Encoding)
	}
	if float64(c.HighCode) > hi {
		f.addf(at+".high_code", "%d is above what %s can hold", c.HighCode, c.Encoding)
	}
	if c.LowCode >= c.HighCode {
		f.addf(at+".high_code", "%d is not above low_code, %d", c.HighCode, c.LowCode)
	}
}

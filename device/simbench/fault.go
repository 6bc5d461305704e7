package simbench

import (
	"fmt"
	"strconv"
	"strings"
	"time"
)

// Fault turns a fault of an instrument or a unit on or off while the bench runs.
//
// An instrument's faults last for so many answers ("3"), for a time ("2s"), until
// "off" ("on"), and for one answer if nothing is said:
//
//	silence [HOW LONG]       nothing is answered, nothing is sent
//	slow FACTOR [HOW LONG]   an answer takes longer (at least FACTOR ms)
//	late [HOW LONG]          an answer is held back until the next question
//	duplicate [HOW LONG]     an answer comes twice
//	garbage [HOW LONG]       random bytes and a line end instead of an answer
//	half-line [HOW LONG]     the first half of an answer, without a line end
//	wrong-speed [HOW LONG]   as if the line were set to another speed
//	overflow [HOW LONG] [plus|minus|nan]   9.9E37, -9.9E37 or 9.91E37 for numbers
//	unplug TIME [PORT]       gone for a time; back under its own or another name
//	power-cycle [TIME]       off in the middle of the next answer, dead for TIME (1s)
//	error CODE TEXT          an entry of the error queue
//	stuck [HOW LONG]         a supply's output stays as it is, whatever it is told
//
// A unit's faults name a test point; they last until "clear":
//
//	drift POINT V_PER_S      step POINT V        noise POINT V_RMS
//	ripple POINT V_PP        (of a rail)
//	half-wave                one leg of the rectifier is out
//	hot POINT FACTOR         load POINT none|double|75|OHM
//	hum POINT V_PP           tone POINT HZ V_RMS   offset POINT V
//	bandwidth POINT HZ       ring POINT HZ RATIO   coupling POINT FARAD
//	sync POINT RATIO         burst POINT RATIO     picture POINT NAME
//	wear FARAD OHM           the reservoir has this capacitance and ESR
//	power off|on             clip OHM TIME (a resistor across the dead reservoir)
//
// "clear" ends every fault of the target.
func (b *Bench) Fault(target, name string, args ...string) error {
	if err := b.fault(target, name, args); err != nil {
		return fmt.Errorf("fault %s of %s: %w", name, target, err)
	}
	return nil
}

func (b *Bench) fault(target, name string, args []string) error {
	if in := b.instruments[target]; in != nil {
		return in.fault(name, args, b.now())
	}
	if u := b.units[target]; u != nil {
		return u.fault(name, args, b.now())
	}
	return fmt.Errorf("there is no instrument or unit of that name; there are %s", strings.Join(b.targets(), ", "))
}

// extent is how long a fault lasts: for some answers, or until a time.
type extent struct {
	answers int
	until   float64 // s on the bench's clock; used if answers is 0
	forever bool
	off     bool
}

// parseExtent reads "3", "2s", "on" or "off".
func parseExtent(text string, now float64) (extent, error) {
	switch text {
	case "on":
		return extent{forever: true}, nil
	case "off":
		return extent{off: true}, nil
	}
	if n, err := strconv.Atoi(text); err == nil && n > 0 {
		return extent{answers: n}, nil
	}
	d, err := parseSpan(text)
	if err != nil {
		return extent{}, fmt.Errorf("%q is neither a number of answers, a time, on nor off", text)
	}
	return extent{until: now + d}, nil
}

// parseSpan reads a duration above 0 into seconds.
func parseSpan(text string) (float64, error) {
	d, err := time.ParseDuration(text)
	if err != nil {
		return 0, fmt.Errorf("%q is not a time such as 2s", text)
	}
	if d <= 0 {
		return 0, fmt.Errorf("%q is not above 0", text)
	}
	return d.Seconds(), nil
}

// numbers reads exactly n numbers within what float formats of the bench can
// carry.
func numbers(args []string, n int) ([]float64, error) {
	if len(args) != n {
		return nil, fmt.Errorf("wants %d numbers, got %d", n, len(args))
	}
	out := make([]float64, n)
	for i, a := range args {
		v, err := strconv.ParseFloat(a, 64)
		if err != nil || !(v > -1e12 && v < 1e12) {
			return nil, fmt.Errorf("%q is not a number", a)
		}
		out[i] = v
	}
	return out, nil
}

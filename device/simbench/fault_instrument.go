package simbench

import (
	"errors"
	"fmt"
	"math/rand/v2"
	"strconv"
	"strings"
	"sync"
	"time"
)

// faults are those of one instrument that are on. They are turned on from
// outside while the instrument's own goroutine asks for them.
type faults struct {
	mu     sync.Mutex
	on     map[string]*extent
	factor float64 // of slow
	number string  // of overflow
	queued []*scpiError
	dead   float64 // s that power-cycle lasts
}

// active tells whether a fault is on, without using it up.
func (f *faults) active(name string, now float64) bool {
	f.mu.Lock()
	defer f.mu.Unlock()
	e := f.on[name]
	if e == nil {
		return false
	}
	if e.answers == 0 && !e.forever && now >= e.until {
		delete(f.on, name)
		return false
	}
	return true
}

// take tells whether a fault is on and uses up one answer of it.
func (f *faults) take(name string, now float64) bool {
	if !f.active(name, now) {
		return false
	}
	f.mu.Lock()
	defer f.mu.Unlock()
	e := f.on[name]
	if e == nil {
		return false
	}
	if e.answers == 1 {
		delete(f.on, name)
	}
	if e.answers > 1 {
		e.answers--
	}
	return true
}

func (f *faults) set(name string, e extent) {
	f.mu.Lock()
	defer f.mu.Unlock()
	if e.off {
		delete(f.on, name)
		return
	}
	f.on[name] = &e
}

// stretch is how long an answer takes that would take d.
func (f *faults) stretch(d time.Duration, now float64) time.Duration {
	if !f.take("slow", now) {
		return d
	}
	f.mu.Lock()
	defer f.mu.Unlock()
	return time.Duration(f.factor * float64(max(d, time.Millisecond)))
}

// overflow replaces a number by the answer for what has none (SCPI-1999 volume
// 1, 7.2.1).
func (f *faults) overflow(answer []byte, now float64) []byte {
	if !f.take("overflow", now) {
		return answer
	}
	f.mu.Lock()
	defer f.mu.Unlock()
	return []byte(map[string]string{"plus": "9.9E37", "minus": "-9.9E37", "nan": "9.91E37"}[f.number])
}

// fault turns one fault of the instrument on.
func (in *instrument) fault(name string, args []string, now float64) error {
	switch name {
	case "clear":
		in.faults.clear()
		return nil
	case "error":
		return in.faults.queue(args)
	case "unplug":
		return in.unplug(args)
	case "power-cycle":
		return in.faults.powerCycle(args)
	case "slow":
		if len(args) == 0 {
			return errors.New("by which factor?")
		}
		v, err := numbers(args[:1], 1)
		if err != nil {
			return err
		}
		if v[0] < 1 || v[0] > 1e6 {
			return fmt.Errorf("factor %g is not between 1 and 1000000", v[0])
		}
		in.faults.setFactor(v[0])
		return in.faults.lasting(name, args[1:], now)
	case "overflow":
		return in.faults.setOverflow(args, now)
	case "silence", "late", "duplicate", "garbage", "half-line", "wrong-speed", "stuck":
		return in.faults.lasting(name, args, now)
	}
	return errNoSuchFault
}

func (f *faults) clear() {
	f.mu.Lock()
	defer f.mu.Unlock()
	clear(f.on)
	f.queued = nil
}

func (f *faults) setFactor(v float64) {
	f.mu.Lock()
	defer f.mu.Unlock()
	f.factor = v
}

// lasting turns a fault on for what the arguments say, one answer if nothing.
func (f *faults) lasting(name string, args []string, now float64) error {
	if len(args) > 1 {
		return fmt.Errorf("%q is too much", args[1:])
	}
	e := extent{answers: 1}
	if len(args) == 1 {
		var err error
		if e, err = parseExtent(args[0], now); err != nil {
			return err
		}
	}
	f.set(name, e)
	return nil
}

func (f *faults) setOverflow(args []string, now float64) error {
	kind := "plus"
	if n := len(args); n > 0 && (args[n-1] == "plus" || args[n-1] == "minus" || args[n-1] == "nan") {
		kind, args = args[n-1], args[:n-1]
	}
	f.mu.Lock()
	f.number = kind
	f.mu.Unlock()
	return f.lasting("overflow", args, now)
}

// queue puts an entry aside for the error queue.
func (f *faults) queue(args []string) error {
	if len(args) == 0 {
		return errors.New("which code?")
	}
	code, err := strconv.Atoi(args[0])
	if err != nil || code == 0 || code < -32768 || code > 32767 {
		return fmt.Errorf("%q is no error code", args[0])
	}
	f.mu.Lock()
	defer f.mu.Unlock()
	f.queued = append(f.queued, &scpiError{code: code, detail: quoted(strings.Join(args[1:], " "))})
	return nil
}

// takeQueued hands over the entries that were put aside, to the goroutine that
// owns the error queue.
func (f *faults) takeQueued() []*scpiError {
	f.mu.Lock()
	defer f.mu.Unlock()
	q := f.queued
	f.queued = nil
	return q
}

// powerCycle arms the loss of power for the next answer.
func (f *faults) powerCycle(args []string) error {
	dead := 1.0
	if len(args) > 0 {
		var err error
		if dead, err = parseSpan(args[0]); err != nil {
			return err
		}
	}
	f.mu.Lock()
	f.dead = dead
	f.mu.Unlock()
	f.set("power-cycle", extent{answers: 1})
	return nil
}

// unplug pulls the cable for a time; it comes back under the port given, or its
// own.
func (in *instrument) unplug(args []string) error {
	if len(args) == 0 || len(args) > 2 {
		return errors.New("wants a time and perhaps a port")
	}
	seconds, err := parseSpan(args[0])
	if err != nil {
		return err
	}
	where := in.port.where()
	if len(args) == 2 {
		where = args[1]
		if err := in.port.mayBe(where); err != nil {
			return err
		}
	}
	return in.port.pull(time.Duration(seconds*float64(time.Second)), where)
}

// noise is n random bytes without a line end: what a line at the wrong speed
// shows.
func noise(n int, chance *rand.Rand) []byte {
	out := make([]byte, n)
	for i := range out {
		out[i] = byte(chance.IntN(256))
		if out[i] == '\n' || out[i] == '\r' {
			out[i] = 0xff
		}
	}
	return out
}

package device_test

import (
	"fmt"
	"sync"
	"testing"
	"time"

	"soakline/device"
	"soakline/device/devicetest"
	"soakline/device/port/porttest"
)

// crier sends a line every few milliseconds, none with a number that was before.
type crier struct {
	t     testing.TB
	cable *porttest.Cable
	stop  chan struct{}
	ended sync.WaitGroup

	mu      sync.Mutex
	count   int
	said    map[string]bool
	silent  bool
	instead string // of the next line, once
}

func newCrier(t testing.TB) *crier {
	c := &crier{t: t, cable: porttest.NewCable(t), said: map[string]bool{}}
	c.begin()
	t.Cleanup(c.end)
	return c
}

func (c *crier) begin() {
	c.stop = make(chan struct{})
	c.ended.Go(func() {
		tick := time.NewTicker(5 * time.Millisecond)
		defer tick.Stop()
		for {
			select {
			case <-c.stop:
				return
			case <-tick.C:
				if line := c.line(); line != "" {
					c.cable.Send(line)
				}
			}
		}
	})
}

func (c *crier) end() {
	if c.stop != nil {
		close(c.stop)
		c.ended.Wait()
		c.stop = nil
	}
}

func (c *crier) line() string {
	c.mu.Lock()
	defer c.mu.Unlock()
	if c.silent {
		return ""
	}
	if line := c.instead; line != "" {
		c.instead = ""
		return line
	}
	c.count++
	value := fmt.Sprintf("5.%06d", c.count)
	c.said[value] = true
	return "DC " + value + " V\r\n"
}

func (c *crier) set(change func()) {
	c.mu.Lock()
	defer c.mu.Unlock()
	change()
}

func (c *crier) check(d devicetest.Delivered) error {
	c.mu.Lock()
	defer c.mu.Unlock()
	digits := d.Digits.String()
	if !c.said[digits] {
		return fmt.Errorf("%s was never said, or is read twice", digits)
	}
	delete(c.said, digits)
	return nil
}

// loose is a pattern that the rest of a line fits too: "311 V" of "8.311 V".
const loose = `(?P<value>[-+.\d]+) (?P<unit>m?V)$`

func (c *crier) link() device.Link {
	return device.Link{Name: "talker", Port: c.cable.Path(), Commands: device.CommandSet{Name: "crier", Line: plainLine,
		Listen: &device.Listen{Pattern: loose, Measure: device.DCVoltage, Prefixes: map[string]int{"V": 0, "mV": -3}, SilentAfter: 300 * time.Millisecond}}}
}

func TestPromisesTalking(t *testing.T) {
	devicetest.Run(t, func(t *testing.T) devicetest.Rig {
		c := newCrier(t)
		return devicetest.Rig{
			Link: c.link(), Check: c.check,
			Pull:    func() { c.end(); c.cable.Pull() },
			Return:  func() { c.cable.Return(); c.begin() },
			Silence: func(on bool) { c.set(func() { c.silent = on }) },
			Garbage: func() { c.set(func() { c.instead = "5.\xff\xfe\x00 V\r\n" }) },
		}
	})
}

// The rest of a line that stood in the port when it was opened is a number,
// and not a reading.
func TestSP10TailOfALine(t *testing.T) {
	cable := porttest.NewCable(t)
	cable.Send("00226800E+00 V\r\n")
	c := &crier{t: t, cable: cable, said: map[string]bool{}}
	recorder := devicetest.NewRecorder()
	devicetest.Start(t, device.NewKeeper(c.link(), recorder))
	c.begin()
	t.Cleanup(c.end)
	recorder.AwaitReadings(t, 3)
	for _, d := range recorder.Readings() {
		if err := c.check(d); err != nil {
			t.Error(err)
		}
	}
}

// The first line after a silence may have lost its beginning.
func TestTailAfterSilence(t *testing.T) {
	c := newCrier(t)
	recorder := devicetest.NewRecorder()
	devicetest.Start(t, device.NewKeeper(c.link(), recorder))
	recorder.AwaitReadings(t, 2)
	c.set(func() { c.silent = true })
	recorder.AwaitEvent(t, device.Silence, 0)
	c.set(func() { c.silent, c.instead = false, "311 V\r\n" })
	recorder.AwaitReadings(t, 3)
	for _, d := range recorder.Readings() {
		if err := c.check(d); err != nil {
			t.Error(err)
		}
	}
}

// 9.9E37, 9.91E37 (SCPI-1999, vol. 1, 7.2.1) and what displays show instead are no
// readings; a figure in another unit is scaled exactly.
func TestWhatATalkerSays(t *testing.T) {
	c := newCrier(t)
	recorder := devicetest.NewRecorder()
	devicetest.Start(t, device.NewKeeper(c.link(), recorder))
	recorder.AwaitReadings(t, 1)
	for _, line := range []struct {
		sent string
		kind device.Kind
	}{
		{"DC 9.91E37 V\r\n", device.Overflow}, // of which the pattern would take 37 V
		{"DC OL V\r\n", device.Overflow},
		{"DC 9.9E37\r\n", device.Overflow},
		{"DC 5.0.1 V\r\n", device.Garbage},
		{"DC 5.01 W\r\n", device.Garbage},
	} {
		so := len(recorder.Events())
		c.set(func() { c.instead = line.sent })
		recorder.Await(t, "event of "+line.sent, func() bool { return len(recorder.Events()) > so })
		if got := recorder.Events()[so]; got.Kind != line.kind {
			t.Errorf("%q is %+v, want %s", line.sent, got, line.kind)
		}
		recorder.AwaitReadings(t, 1)
	}
	c.set(func() { c.instead, c.said["5.0125"] = "DC 5012.5 mV\r\n", true })
	recorder.Await(t, "5012.5 mV as volts", func() bool {
		all := recorder.Readings()
		return all[len(all)-1].Digits.String() == "5.0125" || all[max(len(all)-2, 0)].Digits.String() == "5.0125"
	})
	for _, d := range recorder.Readings() {
		if err := c.check(d); err != nil {
			t.Error(err)
		}
	}
}

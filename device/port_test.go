package device_test

import (
	"strings"
	"testing"

	"soakline/device"
	"soakline/device/devicetest"
	"soakline/device/port/porttest"
	"soakline/device/simbench"
)

// Two adapters were pulled and came back in the other order, each under the other's
// name: what answers is another piece, so nothing is read, whoever it is, until the
// names are right again.
func TestSP8NamesSwapped(t *testing.T) {
	counters := []*counter{newCounter(t), newCounter(t)}
	counters[1].identity = "Saltmarsh,M6,S60018,1.4"
	var keepers []*device.Keeper
	var recorders []*devicetest.Recorder
	for _, c := range counters {
		keeper, recorder := keepCounter(t, c, nil)
		keepers, recorders = append(keepers, keeper), append(recorders, recorder)
	}
	swap := func(want device.Kind) {
		var so []int
		for i, c := range counters {
			so = append(so, len(recorders[i].Events()))
			c.cable.Pull()
		}
		for i, recorder := range recorders { // a stranger's port is not kept open: it is missed at the next look
			recorder.Await(t, "word that the port is gone", func() bool {
				return told(recorder.Events()[so[i]:], []device.Kind{device.Lost, device.Absent})
			})
		}
		porttest.Swap(counters[0].cable, counters[1].cable)
		for _, c := range counters {
			c.cable.Answer(c.reply)
		}
		for i, recorder := range recorders {
			recorder.AwaitEvent(t, want, so[i])
		}
	}
	swap(device.Stranger)
	so := []int{len(recorders[0].Readings()), len(recorders[1].Readings())}
	for i, recorder := range recorders {
		events := len(recorder.Events())
		recorder.AwaitEvent(t, device.Stranger, events) // it looks again, and finds the same
		if keepers[i].Status().Up || len(recorder.Readings()) != so[i] {
			t.Errorf("meter %d is read although another answers: %+v", i, keepers[i].Status())
		}
	}
	swap(device.Opened)
	for i, recorder := range recorders {
		recorder.AwaitReadings(t, 3)
		checkAll(t, counters[i], recorder)
	}
}

// While the port was away the adapter kept the end of what had been said last:
// 226800 of it would be a number. It is nobody's answer, and who is there is asked
// anew.
func TestSP10TailAfterTheReturn(t *testing.T) {
	c := newCounter(t)
	_, recorder := keepCounter(t, c, nil)
	c.cable.Pull()
	recorder.AwaitEvent(t, device.Lost, 0)
	c.set(func() { c.heard = nil })
	c.cable.Return()
	c.cable.Send("00226800E+00\r\n4.97")
	c.cable.Answer(c.reply)
	recorder.AwaitReadings(t, 5)
	checkAll(t, c, recorder)
	c.set(func() {
		if asked := strings.Join(c.heard, " "); !strings.HasPrefix(strings.TrimSpace(asked), "*CLS *IDN?") {
			t.Errorf("after the return it was asked %q", c.heard)
		}
	})
}

// A line that nobody reads keeps the oldest 4.5 kB and loses the rest: so whoever
// keeps a talker reads on whatever else is to be done, and a burst of many times that
// comes through whole and in order.
func TestSP17BurstIsReadWhole(t *testing.T) {
	c := newCrier(t)
	recorder := devicetest.NewRecorder()
	devicetest.Start(t, device.NewKeeper(c.link(), recorder))
	recorder.AwaitReadings(t, 1)
	c.end()
	so, unread := len(recorder.Readings()), 0
	c.set(func() { unread = len(c.said) - so }) // the first line is not taken: it may be a tail
	const lines = 5000
	var burst strings.Builder
	for range lines {
		burst.WriteString(c.line())
	}
	c.cable.Send(burst.String())
	recorder.Await(t, "the whole burst", func() bool { return len(recorder.Readings()) >= so+lines })
	last := ""
	for _, d := range recorder.Readings() {
		if err := c.check(d); err != nil {
			t.Error(err)
		}
		if digits := d.Digits.String(); digits <= last {
			t.Errorf("%s came after %s", digits, last)
		} else {
			last = digits
		}
	}
	c.set(func() {
		if len(c.said) > unread {
			t.Errorf("%d lines were said and not read", len(c.said)-unread)
		}
	})
}

// A speed that the adapter cannot do, or that is not the instrument's, opens like any
// other: only what comes tells. It is never read, what came is told, and once the
// speed is right reading begins by itself.
func TestSP25WrongSpeedFromTheStart(t *testing.T) {
	port := t.TempDir() + "/meter"
	c := simulatedBench(port)
	c.Instruments[0].Faults = []simbench.FaultConfig{{Name: "wrong-speed", Args: []string{"on"}}}
	bench := startSimulated(t, c)
	link := simulatedLink(port)
	link.Commands.Line.Baud = 4_000_000
	recorder := devicetest.NewRecorder()
	keeper := device.NewKeeper(link, recorder)
	keeper.SetWants(wants())
	devicetest.Start(t, keeper)
	recorder.Await(t, "what came instead", func() bool {
		return told(recorder.Events(), []device.Kind{device.Garbage, device.Silence})
	})
	if status := keeper.Status(); status.Up || status.Trouble == "" || len(recorder.Readings()) > 0 {
		t.Errorf("at the wrong speed: %+v, %d readings", status, len(recorder.Readings()))
	}
	if err := bench.Fault("meter", "clear"); err != nil {
		t.Fatal(err)
	}
	recorder.AwaitReadings(t, 5)
	for _, d := range recorder.Readings() {
		if err := trueLevel(d); err != nil {
			t.Error(err)
		}
	}
}

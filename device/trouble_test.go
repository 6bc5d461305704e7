package device_test

import (
	"strings"
	"testing"
	"time"

	"soakline/device"
	"soakline/device/devicetest"
	"soakline/device/port/porttest"
)

// keepCounter keeps a counter and waits for its first readings.
func keepCounter(t *testing.T, c *counter, change func(*device.Link)) (*device.Keeper, *devicetest.Recorder) {
	t.Helper()
	link := c.link()
	if change != nil {
		change(&link)
	}
	recorder := devicetest.NewRecorder()
	keeper := device.NewKeeper(link, recorder)
	keeper.SetWants(wants())
	devicetest.Start(t, keeper)
	recorder.AwaitReadings(t, 3)
	return keeper, recorder
}

func checkAll(t *testing.T, c *counter, recorder *devicetest.Recorder) {
	t.Helper()
	for i, d := range recorder.Readings() {
		if err := c.check(d); err != nil {
			t.Errorf("reading %d: %v", i, err)
		}
	}
}

// once returns an answer that is given instead of the usual one, a single time.
func once(message, instead string) func(string, string) (string, bool) {
	done := false
	return func(m, _ string) (string, bool) {
		if m != message || done {
			return "", false
		}
		done = true
		return instead, true
	}
}

// What comes instead of an answer is told by its kind, and what nobody waited for
// is shown.
func TestWrongAnswers(t *testing.T) {
	for _, row := range []struct {
		name, instead string
		kind          device.Kind
		says          string
	}{
		{"two lines", "101.5\n102.5\n", device.Garbage, "102.5"},
		{"an error text", "ERROR 5\n", device.Garbage, "ERROR 5"},
		{"its own name", "Saltmarsh,M6,S60017,1.4\n", device.Garbage, "Saltmarsh"},
		{"the question (an echo)", "READ?\n", device.Garbage, "echo"},
		{"a half line", "101.5", device.Garbage, "half a line"},
		{"9.9E37 (SCPI-1999, vol. 1, 7.2.1.4)", "9.9E37\n", device.Overflow, "9.9E37"},
		{"9.91E37 (SCPI-1999, vol. 1, 7.2.1.5)", "+9.91000E+37\n", device.Overflow, "9.91"},
		{"S-37: dashes", "----\n", device.Overflow, "----"},
		{"S-37: OL", "OL\n", device.Overflow, "OL"},
		{"beyond a float64", "1E999\n", device.Overflow, "1E999"},
	} {
		t.Run(row.name, func(t *testing.T) {
			t.Parallel()
			c := newCounter(t)
			_, recorder := keepCounter(t, c, nil)
			so := len(recorder.Events())
			c.set(func() { c.answer = once("READ?", row.instead) })
			recorder.Await(t, "event", func() bool {
				for _, e := range recorder.Events()[so:] {
					if e.Kind == row.kind && strings.Contains(e.Text, row.says) {
						return true
					}
				}
				return false
			})
			recorder.AwaitReadings(t, 5)
			for i, d := range recorder.Readings() {
				if text := d.Digits.String(); text == "101.5" {
					continue // the first of two lines is an answer; the second shows itself only later
				}
				if err := c.check(d); err != nil {
					t.Errorf("reading %d: %v", i, err)
				}
			}
		})
	}
}

// Somebody moved the cable: another piece answers where the first one was.
func TestSP8Stranger(t *testing.T) {
	c := newCounter(t)
	keeper, recorder := keepCounter(t, c, nil)
	c.cable.Pull()
	recorder.AwaitEvent(t, device.Lost, 0)
	so := len(recorder.Readings())
	c.set(func() { c.identity = "Saltmarsh,M6,S60018,1.4" })
	c.cable.Return()
	c.cable.Answer(c.reply)
	stranger := recorder.AwaitEvent(t, device.Stranger, 0)
	if !strings.Contains(stranger.Text, "S60018") || !strings.Contains(stranger.Text, "S60017") || keeper.Status().Up {
		t.Errorf("%+v, %+v", stranger, keeper.Status())
	}
	if n := len(recorder.Readings()); n != so {
		t.Errorf("%d readings were taken from a stranger", n-so)
	}
	events := len(recorder.Events())
	c.set(func() { c.identity = "Saltmarsh,M6,S60017,1.4" })
	recorder.AwaitEvent(t, device.Opened, events)
	recorder.AwaitReadings(t, 3)
	checkAll(t, c, recorder)
}

// A bad line garbles a name as well: one that is said once is not believed.
func TestGarbledName(t *testing.T) {
	c := newCounter(t)
	c.answer = once("*IDN?", "Saltmarsh,M6,S6001,1.4\n")
	keeper, recorder := keepCounter(t, c, nil)
	if identity := keeper.Status().Identity; identity.Serial != "S60017" {
		t.Errorf("it is known as %q", identity.Text)
	}
	recorder.AwaitEvent(t, device.Garbage, 0)
}

func TestWrongModel(t *testing.T) {
	c := newCounter(t)
	link := c.link()
	link.Commands.IdentifyPattern = `^Saltmarsh,S2,`
	recorder := devicetest.NewRecorder()
	devicetest.Start(t, device.NewKeeper(link, recorder))
	if e := recorder.AwaitEvent(t, device.Stranger, 0); !strings.Contains(e.Text, "^Saltmarsh,S2,") {
		t.Errorf("%+v", e)
	}
}

// An instrument that was switched off and on has forgotten its channel, and would
// answer for another.
func TestForgottenChannel(t *testing.T) {
	c := newCounter(t)
	recorder := devicetest.NewRecorder()
	keeper := device.NewKeeper(c.link(), recorder)
	keeper.SetWants([]device.Want{{Channel: "101", Measure: device.DCVoltage, Every: 2100 * time.Millisecond}})
	devicetest.Start(t, keeper)
	recorder.AwaitReadings(t, 1)
	c.set(func() { c.channel = 0 })
	recorder.AwaitReadings(t, 1)
	checkAll(t, c, recorder)
}

// Messages of preparation that are questions are asked, and must be answered; each
// is sent again after trouble, because it may have been switched off.
func TestPrepare(t *testing.T) {
	c := newCounter(t)
	_, recorder := keepCounter(t, c, func(l *device.Link) { l.Commands.Prepare = []string{"*RST", "*OPC?"} })
	c.set(func() { c.answer = once("READ?", "") })
	recorder.AwaitEvent(t, device.Silence, 0)
	recorder.AwaitReadings(t, 3)
	checkAll(t, c, recorder)
	c.set(func() {
		if n := strings.Count(strings.Join(c.heard, "\n")+"\n", "*RST\n*OPC?\n"); n != 2 {
			t.Errorf("prepared %d times: %q", n, c.heard)
		}
	})
}

// An instrument that never says who it is is proved to be in step by its figures.
func TestWithoutIdentity(t *testing.T) {
	c := newCounter(t)
	_, recorder := keepCounter(t, c, func(l *device.Link) {
		l.Commands.Identify, l.Commands.ErrorCheck.Send = "", ""
	})
	c.set(func() { c.garbage = 1 })
	recorder.AwaitEvent(t, device.Garbage, 0)
	recorder.AwaitReadings(t, 3)
	checkAll(t, c, recorder)
	link := c.link()
	link.Commands = device.CommandSet{Name: "mute", Line: plainLine, Output: &device.OutputSwitch{On: "ON", Off: "OFF"}}
	mute := porttest.NewCable(t)
	link.Port = mute.Path()
	other := devicetest.NewRecorder()
	devicetest.Start(t, device.NewKeeper(link, other))
	if e := other.AwaitEvent(t, device.Unsuitable, 0); !strings.Contains(e.Text, "identify question") {
		t.Errorf("%+v", e)
	}
}

// One channel that overflows all the time is no trouble of the other's: "again" is
// said once, when that channel reads.
func TestOverflowOfOneChannel(t *testing.T) {
	c := newCounter(t)
	c.answer = func(message, usual string) (string, bool) {
		return "9.9E37\n", message == "READ?" && strings.HasPrefix(usual, "102")
	}
	keeper, recorder := keepCounter(t, c, nil)
	recorder.AwaitReadings(t, 10)
	for _, e := range recorder.Events() {
		if e.Kind != device.Opened && e.Kind != device.Overflow {
			t.Errorf("%+v", e)
		}
	}
	if keeper.Status().Trouble == "" {
		t.Error("the trouble is over, although it lasts")
	}
	c.set(func() { c.answer = nil })
	if e := recorder.AwaitEvent(t, device.Returned, 0); !strings.Contains(e.Text, "102") {
		t.Errorf("%+v", e)
	}
}

// It opens as soon as the port is there, and says once a try why it cannot.
func TestAbsentAndBusy(t *testing.T) {
	c := newCounter(t)
	holder := c.cable.Path()
	c.cable.Pull()
	recorder := devicetest.NewRecorder()
	keeper := device.NewKeeper(c.link(), recorder)
	keeper.SetWants(wants())
	devicetest.Start(t, keeper)
	if e := recorder.AwaitEvent(t, device.Absent, 0); !strings.Contains(e.Text, holder) {
		t.Errorf("%+v", e)
	}
	c.cable.Return()
	c.cable.Answer(c.reply)
	recorder.AwaitReadings(t, 3)
	other := devicetest.NewRecorder()
	devicetest.Start(t, device.NewKeeper(c.link(), other))
	other.AwaitEvent(t, device.Busy, 0)
	recorder.AwaitReadings(t, 3)
	checkAll(t, c, recorder)
}

// "idn:" finds an instrument on whichever port it is, past those that are silent,
// absent or others, and says who was met when it is nowhere.
func TestFoundByName(t *testing.T) {
	silent, absent := porttest.NewCable(t), porttest.NewCable(t)
	absent.Pull()
	other, c := newCounter(t), newCounter(t)
	other.identity = "Saltmarsh,M6,S60018,1.4"
	paths := []string{silent.Path(), absent.Path(), other.cable.Path()}
	link := c.link()
	link.Port = "idn:M6,S60017"
	recorder := devicetest.NewRecorder()
	keeper := device.NewKeeper(link, recorder)
	found := make(chan struct{})
	keeper.SetCandidates(func() []string {
		select {
		case <-found:
			return append(paths, c.cable.Path())
		default:
			return paths
		}
	})
	keeper.SetWants(wants())
	devicetest.Start(t, keeper)
	e := recorder.AwaitEvent(t, device.Absent, 0)
	for _, says := range []string{silent.Path() + " (silence)", absent.Path() + " (absent)", other.cable.Path() + " (Saltmarsh,M6,S60018,1.4)"} {
		if !strings.Contains(e.Text, says) {
			t.Errorf("%q does not say %q", e.Text, says)
		}
	}
	close(found)
	recorder.AwaitReadings(t, 3)
	if keeper.Status().Port != c.cable.Device() {
		t.Errorf("%+v", keeper.Status())
	}
	checkAll(t, c, recorder)
}

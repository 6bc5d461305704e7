package device_test

import (
	"fmt"
	"path/filepath"
	"testing"

	"soakline/device"
	"soakline/device/devicetest"
	"soakline/device/simbench"
)

// TestHubReset takes the ports of four instruments away in the same moment, as a hub
// does that starts anew, and gives them back, each to another name: every instrument
// is found again by what it answers, and no reading is taken for another's.
func TestHubReset(t *testing.T) {
	const meters = 4
	dir := t.TempDir()
	c := simulatedBench("")
	kind := c.Instruments[0]
	c.Instruments = nil
	var places []string
	for i := range meters {
		name := fmt.Sprintf("meter-%d", i)
		one := kind
		one.Name, one.Identity, one.Port = name, fmt.Sprintf("Saltmarsh,M6,S6000%d,1.4", i), filepath.Join(dir, fmt.Sprintf("port-%d", i))
		one.Wiring = []simbench.WireConfig{{Channel: 101, Unit: "B8-0147", TestPoint: fmt.Sprintf("rail-%d", i%2)}}
		places = append(places, one.Port, filepath.Join(dir, fmt.Sprintf("again-%d", i)))
		c.Instruments = append(c.Instruments, one)
	}
	bench := startSimulated(t, c)
	recorders := make([]*devicetest.Recorder, meters)
	for i := range meters {
		link := simulatedLink(fmt.Sprintf("idn:M6,S6000%d", i))
		link.Name = fmt.Sprintf("meter-%d", i)
		recorders[i] = devicetest.NewRecorder()
		keeper := device.NewKeeper(link, recorders[i])
		keeper.SetCandidates(func() []string { return places })
		keeper.SetWants(wants()[:1])
		stop := devicetest.Start(t, keeper)
		defer stop()
	}
	for _, recorder := range recorders {
		recorder.AwaitReadings(t, 3)
	}
	for i := range meters { // the names come back in the other order
		again := filepath.Join(dir, fmt.Sprintf("again-%d", meters-1-i))
		if err := bench.Fault(fmt.Sprintf("meter-%d", i), "unplug", "300ms", again); err != nil {
			t.Fatal(err)
		}
	}
	for i, recorder := range recorders {
		recorder.Await(t, "the loss of the port", func() bool { return told(recorder.Events(), []device.Kind{device.Lost}) })
		recorder.AwaitReadings(t, len(recorder.Readings())+5)
		want := []float64{5, 12}[i%2]
		for _, d := range recorder.Readings() {
			if d.Value < want-tolerance*want || d.Value > want+tolerance*want {
				t.Errorf("meter %d reads %g V and has %g V", i, d.Value, want)
			}
		}
	}
}

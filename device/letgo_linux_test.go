package device_test

import (
	"os"
	"path/filepath"
	"strings"
	"testing"

	"soakline/device"
	"soakline/device/devicetest"
	"soakline/device/port/porttest"
)

// Whoever holds a dead port makes the adapter come back under another name. When the
// loss is told nobody here holds it any more, whether the instrument was asked,
// listened to, or only being looked for.
func TestSP6DeadPortIsLetGo(t *testing.T) {
	asked, talking := newCounter(t), newCrier(t)
	lookedFor := asked.link()
	lookedFor.Port = "idn:M6,S60017"
	for name, rig := range map[string]struct {
		link  device.Link
		cable *porttest.Cable
		pull  func()
	}{
		"asked":      {asked.link(), asked.cable, asked.cable.Pull},
		"talking":    {talking.link(), talking.cable, func() { talking.end(); talking.cable.Pull() }},
		"looked for": {lookedFor, asked.cable, asked.cable.Pull},
	} {
		t.Run(name, func(t *testing.T) {
			if name == "looked for" || name == "asked" {
				asked.cable.Pull()
				asked.cable.Return()
				asked.cable.Answer(asked.reply)
			}
			recorder := devicetest.NewRecorder()
			keeper := device.NewKeeper(rig.link, recorder)
			keeper.SetCandidates(func() []string { return []string{rig.cable.Path()} })
			keeper.SetWants(wants())
			devicetest.Start(t, keeper)
			recorder.AwaitReadings(t, 2)
			device0 := rig.cable.Device()
			if len(holding(t, device0)) < 2 { // the far end's copy is one
				t.Fatalf("%s is not seen to be held, so this test sees nothing", device0)
			}
			rig.pull()
			recorder.AwaitEvent(t, device.Lost, 0)
			if held := holding(t, device0); len(held) > 0 {
				t.Errorf("the dead port is held: %q", held)
			}
		})
	}
}

// holding are this process's descriptors that lead to a terminal; a dead one is
// marked "(deleted)".
func holding(t *testing.T, device string) []string {
	t.Helper()
	names, err := filepath.Glob("/proc/self/fd/*")
	if err != nil {
		t.Fatal(err)
	}
	var held []string
	for _, name := range names {
		to, err := os.Readlink(name)
		if err == nil && strings.TrimSuffix(to, " (deleted)") == device {
			held = append(held, filepath.Base(name))
		}
	}
	return held
}

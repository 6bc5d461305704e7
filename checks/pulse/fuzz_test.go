package pulse_test

import (
	"encoding/binary"
	"math"
	"testing"

	"soakline/checks/pulse"
)

// Whatever the samples are, there is an error or finite figures in order.
func FuzzMeasure(f *testing.F) {
	f.Add([]byte{0, 0, 0, 0, 0, 1, 0, 1}, 1e-8, 0.0)
	f.Add([]byte{255, 255, 0, 0, 128, 1}, 1.0, 0.5)
	f.Fuzz(func(t *testing.T, raw []byte, dt, step float64) {
		var v []float64
		for ; len(raw) >= 2; raw = raw[2:] {
			v = append(v, float64(int16(binary.BigEndian.Uint16(raw)))/1000)
		}
		l, err := pulse.HistogramLevels(v, pulse.HistogramOptions{Step: math.Mod(math.Abs(step), 10)})
		if err != nil {
			return
		}
		if !(l.Low < l.High) {
			t.Fatalf("levels %g and %g", l.Low, l.High)
		}
		all, err := pulse.Transitions(v, dt, l)
		if err != nil {
			return
		}
		for _, edge := range all {
			if !(edge.DurationSeconds >= 0) {
				t.Fatalf("duration %g", edge.DurationSeconds)
			}
			pre, post, err := pulse.Aberrations(v, dt, l, edge, pulse.AberrationOptions{})
			if err != nil {
				t.Fatal(err)
			}
			for _, a := range []pulse.Aberration{pre, post} {
				if a.OvershootPercent < 0 || a.UndershootPercent < 0 {
					t.Fatalf("negative aberration %+v", a)
				}
			}
			if s, err := pulse.SettlingSeconds(v, dt, l, edge, 2, 0); err == nil && math.IsNaN(s) {
				t.Fatal("settling is NaN without an error")
			}
		}
	})
}

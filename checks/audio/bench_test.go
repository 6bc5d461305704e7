package audio_test

import (
	"testing"

	"soakline/checks/audio"
)

// BenchmarkAnalyseTenSecondsStereo is the record that a person takes at the bench:
// a tone in noise with some hum.
func BenchmarkAnalyseTenSecondsStereo(b *testing.B) {
	m := made{seconds: 10, sines: []sine{{0.316, 1000, 0}, {0.001, 2000, 0}, {0.0005, 50, 0}}, noise: 1e-4}
	left := m.volts()
	m.seed = 1
	r, o := stereo(left, m.volts()), audio.Options{Limits: audio.WorkshopLimits()}
	b.ReportAllocs()
	for b.Loop() {
		if _, err := audio.Analyse(r, o); err != nil {
			b.Fatal(err)
		}
	}
}

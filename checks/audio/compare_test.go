package audio_test

import (
	"math"
	"strings"
	"testing"

	"soakline/checks/audio"
)

// noisy is a tone of -10 dBV with white noise of a level in the band, in dBV.
func noisy(levelDBV, noiseDBV float64, seed uint64) audio.Record {
	share := math.Sqrt((20000 - 20) / (rate / 2.0))
	return mono(made{seconds: 5, sines: []sine{{math.Pow(10, levelDBV/20), 1000, 0}},
		noise: math.Pow(10, noiseDBV/20) / share, seed: seed}.volts())
}

func changeOf(t *testing.T, before, after audio.Record, name string) audio.Change {
	t.Helper()
	all, err := audio.Compare(analyse(t, before, audio.Options{}), analyse(t, after, audio.Options{}))
	if err != nil {
		t.Fatal(err)
	}
	for _, c := range all {
		if c.Name == name {
			return c
		}
	}
	t.Fatalf("no %q in %+v", name, all)
	return audio.Change{}
}

func TestDoesADifferenceMatter(t *testing.T) {
	tests := []struct {
		name, figure  string
		before, after audio.Record
		decibels      float64
		resolved      bool
		matters       bool
		says          []string
	}{
		{"2 dB of noise at -80 dBV", "noise", noisy(-10, -82, 0), noisy(-10, -80, 1), 2, true, false,
			[]string{"up by 2.", "to -79.99 dBV", "the louder is 70 dB below the tone", "too far down to matter"}},
		{"2 dB of noise at -60 dBV", "noise", noisy(-10, -62, 0), noisy(-10, -60, 1), 2, true, true,
			[]string{"to -59.99 dBV", "50 dB below the tone", "can be heard"}},
		{"noise gone down", "noise", noisy(-10, -60, 0), noisy(-10, -70, 1), -10, true, true, []string{"down by 9.96"}},
		{"a quarter of a decibel", "level", noisy(-10, -80, 0), noisy(-9.75, -80, 1), 0.25, true, false, []string{"less than 1 dB"}},
		{"3 dB louder", "level", noisy(-10, -80, 0), noisy(-7, -80, 1), 3, true, true, []string{"up by 3.00 dB", "to -7.00 dBV", "can be heard"}},
		{"the same", "noise", noisy(-10, -70, 0), noisy(-10, -70, 1), 0, false, false, []string{"own uncertainty"}},
	}
	for _, tt := range tests {
		t.Run(tt.name, func(t *testing.T) {
			c := changeOf(t, tt.before, tt.after, tt.figure)
			if math.Abs(c.Decibels.Value-tt.decibels) > 0.1 || c.Resolved != tt.resolved || c.Matters != tt.matters {
				t.Errorf("%+v", c)
			}
			for _, want := range tt.says {
				if !strings.Contains(c.Text, want) {
					t.Errorf("%q does not say %q", c.Text, want)
				}
			}
		})
	}
}

func TestCompareRefuses(t *testing.T) {
	one, two := analyse(t, mono(tone(0)), audio.Options{}), analyse(t, stereo(tone(0), tone(1)), audio.Options{})
	if _, err := audio.Compare(one, two); err == nil {
		t.Error("one channel was compared with two")
	}
	relative := one
	relative.Relative = true
	if _, err := audio.Compare(one, relative); err == nil {
		t.Error("volts were compared with full scale")
	}
	silence := analyse(t, mono(make([]float64, rate)), audio.Options{})
	all, err := audio.Compare(one, silence)
	if err != nil {
		t.Fatal(err)
	}
	for _, c := range all {
		if c.Matters || c.Resolved || !strings.Contains(c.Text, "can't be compared") {
			t.Errorf("against silence: %+v", c)
		}
	}
}

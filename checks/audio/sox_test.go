package audio_test

import (
	"fmt"
	"math"
	"os"
	"os/exec"
	"path/filepath"
	"regexp"
	"strconv"
	"strings"
	"testing"

	"soakline/checks/audio"
	"soakline/device"
)

// sox runs SoX, an independent program, and returns what it says; it is needed.
func sox(t *testing.T, args ...string) string {
	t.Helper()
	if _, err := exec.LookPath("sox"); err != nil {
		t.Fatal("sox is missing: install the package sox (SoX 14.4.2) for the cross-check")
	}
	out, err := exec.Command("sox", args...).CombinedOutput()
	if err != nil {
		t.Fatalf("sox %s: %v: %s", strings.Join(args, " "), err, out)
	}
	return string(out)
}

// soxFigures are columns of what `sox FILE -n stats` prints: overall first where
// there are two channels.
func soxFigures(t *testing.T, stats, label string) []float64 {
	t.Helper()
	line := regexp.MustCompile(`(?m)^` + label + ` +(.*)$`).FindStringSubmatch(stats)
	if line == nil {
		t.Fatalf("no %q in %s", label, stats)
	}
	var all []float64
	for _, field := range strings.Fields(line[1]) {
		x, err := strconv.ParseFloat(field, 64)
		if err != nil {
			x = math.NaN() // a dash stands for what SoX gives for single channels only
		}
		all = append(all, x)
	}
	return all
}

// TestAgainstSoX has SoX make files and process them, and compares rms, peak and
// crest factor of every channel with its own statistics. SoX counts them from 0,
// with DC.
func TestAgainstSoX(t *testing.T) {
	for name, effects := range map[string]string{
		"sine":       "-b 16 -c 1|synth 3 sine 997 gain -6",
		"24 bits":    "-b 24 -c 1|synth 2 sine 440 gain -20",
		"8 bits":     "-b 8 -c 1|synth 2 triangle 300 gain -3",
		"floats":     "-e floating-point -b 32 -c 1|synth 2 square 220 gain -9",
		"two tones":  "-b 16 -c 2|synth 3 sine 1000 sine 1370 gain -10",
		"noise":      "-b 16 -c 2|synth 3 pinknoise whitenoise gain -12",
		"with DC":    "-b 16 -c 1|synth 2 sine 1000 gain -12 dcshift 0.2",
		"compressed": "-b 16 -c 2|synth 3 sawtooth 180 pluck 220 gain -3 compand 0.05,0.2 6:-54,-30,-10 -5",
		"filtered":   "-b 16 -c 2|synth 3 square 150 exp 700 gain -6 lowpass 3000 treble +6 gain -8",
		"faded":      "-b 16 -c 1|synth 3 sine 600 gain -6 fade t 0.5 3 0.5 reverb",
		"overdriven": "-b 16 -c 1|synth 2 sine 500 gain -2 overdrive 12 gain -4",
	} {
		t.Run(name, func(t *testing.T) {
			path := filepath.Join(t.TempDir(), "made.wav")
			format, chain, _ := strings.Cut(effects, "|")
			args := append([]string{"-R", "-n", "-r", "44100"}, strings.Fields(format)...)
			sox(t, append(append(args, path), strings.Fields(chain)...)...)
			compareWithSoX(t, path)
		})
	}
}

func compareWithSoX(t *testing.T, path string) {
	t.Helper()
	file, err := os.Open(path)
	if err != nil {
		t.Fatal(err)
	}
	defer file.Close()
	recording, err := device.ReadWAV(file, path, device.WAVOptions{})
	if err != nil {
		t.Fatal(err)
	}
	result := analyse(t, audio.FromRecording(recording), audio.Options{})
	stats := sox(t, path, "-n", "stats")
	rms, peak, crest := soxFigures(t, stats, "RMS lev dB"), soxFigures(t, stats, "Pk lev dB"), soxFigures(t, stats, "Crest factor")
	skip := 0
	if len(result.Channels) > 1 {
		skip = 1
	}
	if len(rms) != len(result.Channels)+skip {
		t.Fatalf("%d channels, but SoX says %v", len(result.Channels), rms)
	}
	for i, c := range result.Channels {
		what := fmt.Sprintf("%s against SoX's ", c.Name)
		within(t, what+"rms", c.TotalRMSVolts.Value, math.Pow(10, rms[i+skip]/20), allowed)
		within(t, what+"peak", c.PeakVolts.Value, math.Pow(10, peak[i+skip]/20), allowed)
		within(t, what+"crest factor", c.PeakVolts.Value/c.TotalRMSVolts.Value, crest[i+skip], allowed)
		if math.Abs(c.DCVolts.Value) < 1e-3 {
			within(t, what+"crest factor, ours", c.CrestFactor.Value, crest[i+skip], allowed)
		}
	}
}

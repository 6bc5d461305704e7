package audio_test

import (
	"encoding/csv"
	"math"
	"math/rand/v2"
	"os"
	"path/filepath"
	"strconv"
	"testing"

	"soakline/checks/audio"
)

// rate is the sample rate of the made records, in Hz.
const rate = 48000

// sine is a sine of an rms and a frequency, its phase in radians.
type sine struct{ rms, hertz, phase float64 }

// made is a record to make: sines, white noise of an rms, DC, and rounding to a
// step (0 for none).
type made struct {
	seconds         float64
	sines           []sine
	noise, dc, step float64
	seed            uint64
}

func (m made) volts() []float64 {
	v := make([]float64, int(math.Round(m.seconds*rate)))
	random := rand.New(rand.NewPCG(m.seed, 1))
	for i := range v {
		x := m.dc
		for _, s := range m.sines {
			x += s.rms * math.Sqrt2 * math.Sin(2*math.Pi*s.hertz*float64(i)/rate+s.phase)
		}
		if m.noise > 0 {
			x += m.noise * random.NormFloat64()
		}
		if m.step > 0 {
			x = m.step * math.Round(x/m.step)
		}
		v[i] = x
	}
	return v
}

// shape is a record of a wave given over its cycle, 0 to 1, taken half a sample off
// its edges.
func shape(seconds, hertz float64, wave func(x float64) float64) []float64 {
	v := make([]float64, int(math.Round(seconds*rate)))
	for i := range v {
		v[i] = wave(math.Mod(hertz*(float64(i)+0.5)/rate, 1))
	}
	return v
}

// mono and stereo are records at rate.
func mono(v []float64) audio.Record {
	return audio.Record{SampleIntervalSeconds: 1.0 / rate, Channels: []audio.Channel{{Name: "channel", Volts: v}}}
}

func stereo(left, right []float64) audio.Record {
	return audio.Record{SampleIntervalSeconds: 1.0 / rate, Channels: []audio.Channel{{Name: "left", Volts: left}, {Name: "right", Volts: right}}}
}

func analyse(t testing.TB, r audio.Record, o audio.Options) audio.Result {
	t.Helper()
	result, err := audio.Analyse(r, o)
	if err != nil {
		t.Fatal(err)
	}
	return result
}

// first analyses a record of one channel, judged by the workshop's limits.
func first(t testing.TB, v []float64) audio.ChannelResult {
	t.Helper()
	return analyse(t, mono(v), audio.Options{Limits: audio.WorkshopLimits()}).Channels[0]
}

// rows reads a file of reference figures, without its header.
func rows(t testing.TB, name string) [][]string {
	t.Helper()
	file, err := os.Open(filepath.Join("testdata", name))
	if err != nil {
		t.Fatal(err)
	}
	defer file.Close()
	all, err := csv.NewReader(file).ReadAll()
	if err != nil {
		t.Fatal(err)
	}
	return all[1:]
}

// closedForm is the value of a row of spectral_closed_form.csv.
func closedForm(t testing.TB, id string) float64 {
	t.Helper()
	for _, row := range rows(t, "spectral_closed_form.csv") {
		if row[0] == id {
			return figure(t, row[3])
		}
	}
	t.Fatalf("no closed form named %s", id)
	return 0
}

func figure(t testing.TB, text string) float64 {
	t.Helper()
	x, err := strconv.ParseFloat(text, 64)
	if err != nil {
		t.Fatal(err)
	}
	return x
}

// within demands that got be want give or take decibels.
func within(t testing.TB, what string, got, want, decibels float64) {
	t.Helper()
	if apart := 20 * math.Log10(got/want); !(math.Abs(apart) <= decibels) {
		t.Errorf("%s: %.8g, want %.8g: %+.4f dB apart, allowed %g", what, got, want, apart, decibels)
	}
}

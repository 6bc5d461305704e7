package audio_test

import (
	"errors"
	"math"
	"testing"

	"soakline/checks/audio"
)

// onePole is the gain of a low-pass of one pole at corner Hz (-3.01 dB there:
// spectral_closed_form.csv, rc_minus3db).
func onePole(hertz, corner float64) float64 { return 1 / math.Hypot(1, hertz/corner) }

func checkResponse(t *testing.T, v []float64, corner float64, least int, low, high float64) {
	t.Helper()
	points, err := audio.Response(mono(v), 0, 0)
	if err != nil {
		t.Fatal(err)
	}
	seen := 0
	for _, p := range points {
		if p.Hertz < low || p.Hertz > high {
			continue
		}
		seen++
		want := 20 * math.Log10(onePole(p.Hertz, corner)/onePole(1000, corner))
		if math.Abs(p.Decibels.Value-want) > 0.1 {
			t.Errorf("%.1f Hz: %.3f dB, want %.3f", p.Hertz, p.Decibels.Value, want)
		}
	}
	if seen < least {
		t.Errorf("%d points, want %d or more", seen, least)
	}
}

func TestResponseOfSteps(t *testing.T) {
	var v []float64
	for _, hz := range []float64{63, 125, 250, 500, 1000, 2000, 4000, 8000, 16000} {
		v = append(v, made{seconds: 0.5, sines: []sine{{0.3 * onePole(hz, 4000), hz, 0.3}}, dc: 0.01}.volts()...)
	}
	checkResponse(t, v, 4000, 9, 60, 17000)
	points, err := audio.Response(mono(v), 0, 1000)
	if err != nil || len(points) != 9 {
		t.Fatalf("%d points, %v; want one a step", len(points), err)
	}
	corner := points[6].Decibels.Value + 20*math.Log10(onePole(1000, 4000))
	if want := closedForm(t, "rc_minus3db"); math.Abs(corner-want) > 0.05 {
		t.Errorf("at the corner %.3f dB, want %.3f", corner, want)
	}
}

func TestResponseOfASweep(t *testing.T) {
	const seconds, low, high, corner = 10.0, 50.0, 16000.0, 3000.0
	v := make([]float64, seconds*rate)
	grow := math.Log(high / low)
	for i := range v {
		at := float64(i) / rate
		hz := low * math.Exp(grow*at/seconds)
		v[i] = 0.3 * onePole(hz, corner) * math.Sin(2*math.Pi*low*seconds/grow*(math.Exp(grow*at/seconds)-1))
	}
	checkResponse(t, v, corner, 80, 60, 14000)
}

func TestResponseThatIsNone(t *testing.T) {
	for name, v := range map[string][]float64{
		"silence": make([]float64, rate), "noise": made{seconds: 1, noise: 0}.volts(), "one tone": made{seconds: 2, sines: []sine{{0.3, 1000, 0}}}.volts(),
		"short": made{seconds: 0.01, sines: []sine{{0.3, 1000, 0}}}.volts(),
	} {
		if points, err := audio.Response(mono(v), 0, 0); !errors.Is(err, audio.ErrRecord) {
			t.Errorf("%s: %d points, %v", name, len(points), err)
		}
	}
	if _, err := audio.Response(mono(make([]float64, 100)), 1, 0); err == nil {
		t.Error("a channel that is not there")
	}
}

package audio_test

import (
	"fmt"
	"math"
	"testing"

	"soakline/checks/audio"
)

// disturbed is three seconds of a tone in a little noise, changed by what is done to
// the samples from 1.2345 s on.
func disturbed(hertz float64, change func(v []float64)) audio.ChannelResult {
	v := made{seconds: 3, sines: []sine{{0.316, hertz, 0.3}}, noise: 3e-5, seed: 7}.volts()
	change(v[int(1.2345*rate):])
	result, err := audio.Analyse(mono(v), audio.Options{})
	if err != nil {
		panic(err)
	}
	return result.Channels[0]
}

// TestShortDropouts: a tone that is cut off by a factor for a time is a dropout of
// that time from 1 ms on; what is shorter, or does not fall to a tenth, is none. The
// records are made, so that times are known to the sample; each end is found within
// 0.3 ms, the reach of what is looked at.
func TestShortDropouts(t *testing.T) {
	for _, hertz := range []float64{130, 440, 997, 5000} {
		for _, row := range []struct {
			ms, factor float64
			dropouts   int
		}{
			{0.3, 0, 0}, {0.6, 0, 0}, {1.1, 0, 1}, {1.5, 0, 1}, {2, 0, 1}, {3, 0.03, 1}, {5, 0, 1}, {9.9, 0.03, 1}, {12, 0, 1}, {25, 0, 1}, {400, 0, 1},
			{5, 0.5, 0}, {25, 0.5, 0},
		} {
			t.Run(fmt.Sprintf("%g Hz, %g ms, %g", hertz, row.ms, row.factor), func(t *testing.T) {
				c := disturbed(hertz, func(v []float64) {
					for i := range int(math.Round(row.ms / 1000 * rate)) {
						v[i] *= row.factor
					}
				})
				if len(c.Dropouts) != row.dropouts {
					t.Fatalf("dropouts %v, clicks %v", c.Dropouts, c.Clicks)
				}
				if row.dropouts == 0 {
					return
				}
				const allowed = 0.3e-3
				d := c.Dropouts[0]
				if math.Abs(d.AtSeconds-1.2345) > allowed || math.Abs(d.Seconds-row.ms/1000) > 2*allowed || len(c.Clicks) > 0 {
					t.Errorf("%.5f s long at %.5f s, clicks %v", d.Seconds, d.AtSeconds, c.Clicks)
				}
			})
		}
	}
}

// TestClicksAreNoDropouts: an impulse, a step, a burst on a tone that stays.
func TestClicksAreNoDropouts(t *testing.T) {
	for name, change := range map[string]func(v []float64){
		"an impulse":  func(v []float64) { v[0] += 0.2 },
		"a short one": func(v []float64) { v[0], v[1], v[2] = v[0]+0.1, v[1]-0.2, v[2]+0.1 },
		"a step that decays": func(v []float64) {
			for i := range 2000 {
				v[i] += 0.2 * math.Exp(-float64(i)/200)
			}
		},
		"a sample that is cut": func(v []float64) { v[10] = 0 },
	} {
		c := disturbed(997, change)
		if len(c.Dropouts) != 0 || len(c.Clicks) != 1 {
			t.Errorf("%s: dropouts %v, clicks %v", name, c.Dropouts, c.Clicks)
		}
		if at := c.Clicks[0].AtSeconds; math.Abs(at-1.2345) > 0.01 {
			t.Errorf("%s: at %.4f s", name, at)
		}
	}
}

// TestWavesOfTheirOwn: what stands still or is silent in each of its cycles has no
// dropouts; when it is really gone it has one.
func TestWavesOfTheirOwn(t *testing.T) {
	pulse := func(width float64) func(float64) float64 {
		return func(x float64) float64 {
			if x < width {
				return 1
			}
			return 0
		}
	}
	for name, wave := range map[string]func(float64) float64{"square": square, "triangle": triangle, "sawtooth": func(x float64) float64 { return 2*x - 1 },
		"narrow pulse": pulse(0.1), "bursts": func(x float64) float64 { return pulse(0.5)(x) * math.Sin(20*math.Pi*x) }} {
		for _, hertz := range []float64{85, 111, 440, 997} {
			v := shape(2, hertz, wave)
			for i := range v {
				v[i] *= 0.3
			}
			result, err := audio.Analyse(mono(v), audio.Options{})
			if err != nil || len(result.Channels[0].Dropouts) != 0 {
				t.Errorf("%s of %g Hz: %v, %v", name, hertz, result.Channels[0].Dropouts, err)
			}
			if name != "square" {
				continue
			}
			clear(v[rate : rate+rate/50])
			result, err = audio.Analyse(mono(v), audio.Options{})
			if err != nil || len(result.Channels[0].Dropouts) != 1 {
				t.Errorf("%s of %g Hz, gone for 20 ms: %v, %v", name, hertz, result.Channels[0].Dropouts, err)
			}
		}
	}
}

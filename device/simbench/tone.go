package simbench

import (
	"math"
	"math/rand/v2"
)

// tone is an audio output that plays a test tone while the unit is powered.
type tone struct {
	voltage
	config ToneConfig
	input  *reservoir
	extra  float64 // V rms of noise added by a fault
	// What a fault lets happen once in so many seconds; 0: never.
	muteEvery, crackleEvery, crackleVolts float64
}

// How long the tone is mute and a crackle lasts, s.
const muteFor, crackleFor = 25e-3, 100e-6

func (a *tone) fill(v []float64, start, step float64, chance *rand.Rand) {
	c := a.config
	peak := c.LevelRMSV * math.Sqrt2
	noise := math.Hypot(c.NoiseRMSV, a.extra)
	for i := range v {
		t := start + float64(i)*step
		if !a.input.powered(t) {
			v[i] = noise * chance.NormFloat64() / 10
			continue
		}
		if a.crackleEvery > 0 && math.Mod(t, a.crackleEvery) < crackleFor {
			v[i] = a.crackleVolts
		} else {
			v[i] = 0
		}
		peak := peak
		if a.muteEvery > 0 && math.Mod(t, a.muteEvery) < muteFor {
			peak = 0
		}
		angle := 2 * math.Pi * c.FrequencyHz * t
		v[i] += c.OffsetV + noise*chance.NormFloat64() + peak*(math.Sin(angle)+
			c.SecondRatio*math.Sin(2*angle)+c.ThirdRatio*math.Sin(3*angle)) +
			c.HumRMSV*math.Sqrt2*math.Sin(4*math.Pi*a.input.mainsHz*t)
	}
}

// warmth is the temperature inside the case: it rises from the ambient while the
// bench runs.
type warmth struct{ config TemperatureConfig }

func (w *warmth) fill(v []float64, start, step float64, _ *rand.Rand) {
	for i := range v {
		t := start + float64(i)*step
		v[i] = w.config.AmbientCelsius + w.config.RiseCelsius*(1-math.Exp(-max(0, t)/w.config.WarmUpS))
	}
}

func (w *warmth) celsius() bool           { return true }
func (w *warmth) amperes(float64) float64 { return math.NaN() }

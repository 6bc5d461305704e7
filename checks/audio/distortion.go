package audio

import "math"

// measureDistortion sums up the harmonics: all of them up to 20 kHz, so that a
// square wave has the 48.3 % that arithmetic gives it. What lies in a harmonic's
// bins from noise alone is taken off; THD then is 0 give or take its uncertainty
// where only noise is.
func (c *channelAnalysis) measureDistortion() {
	if !c.hasTone() || 2*c.tone.hertz.Value > c.top() {
		return
	}
	s, f := c.spectrum, c.tone.hertz.Value
	var sum, variance float64
	for h := 2; float64(h)*f <= c.top(); h++ {
		// The frequency of the fundamental is known to a small part of a bin.
		l := s.lineAt(float64(h)*f, 1)
		if c.nearHum(l.at) {
			continue
		}
		sum += l.square.Value
		variance += l.square.U * l.square.U
	}
	r := &c.result
	harmonics := Measured{Value: math.Max(0, sum), U: math.Sqrt(variance)}
	r.THDPercent = harmonics.root().over(r.ToneVolts).times(100)
	if r.NoiseVolts.OK() {
		noise := Measured{Value: r.NoiseVolts.Value * r.NoiseVolts.Value, U: 2 * r.NoiseVolts.Value * r.NoiseVolts.U}
		all := Measured{Value: harmonics.Value + noise.Value, U: math.Hypot(harmonics.U, noise.U)}
		r.THDNPercent = all.root().over(r.ToneVolts).times(100)
	}
}

// nearHum tells whether a bin is taken by a line of hum.
func (c *channelAnalysis) nearHum(k int) bool {
	for _, l := range c.humLines {
		if d := l.at - k; -lobe <= d && d <= lobe {
			return true
		}
	}
	return false
}

package audio

import "math"

// bandLow and bandHigh are the ends of the band that noise is measured in, in Hz:
// what people hear (AES17 asks for a low-pass of 20 kHz; from memory, A-62).
const bandLow, bandHigh = 20, 20000

// leastBins is how many bins from DC a line must be to be measured.
const leastBins = lobe + 3

// top is the upper end of the band in this record; a converter's filter takes the
// last part below half the sample rate.
func (c *channelAnalysis) top() float64 { return math.Min(bandHigh, 0.48/c.dt) }

// taken marks the bins that belong to the tone and its harmonics.
type taken []bool

func (t taken) take(k, width int) {
	for i := max(0, k-width); i <= min(len(t)-1, k+width); i++ {
		t[i] = true
	}
}

// end is the last bin of the gap that k is in.
func (t taken) end(k int) int {
	for k+1 < len(t) && t[k+1] {
		k++
	}
	return k
}

// share is how much of the bins from first on is taken.
func (t taken) share(first int) float64 {
	n := 0
	for _, is := range t[first:] {
		if is {
			n++
		}
	}
	return float64(n) / float64(len(t)-first)
}

// width is how many bins a line takes on either side: its skirt where it stands 80
// dB and more above the noise, else no more than its main lobe.
func (s Spectrum) width(k int) int {
	if s.Power[k] > 1e8*s.floorAt(k) {
		return skirt
	}
	return lobe + 3
}

// measureNoise sums up what is left in the band. Where tone and harmonics were taken
// out it puts in the noise about them.
func (c *channelAnalysis) measureNoise() {
	s := c.spectrum
	first, last := int(math.Ceil(bandLow/s.BinHertz)), int(c.top()/s.BinHertz)
	first = max(first, 1)
	if last-first < 2*skirt {
		return
	}
	out := make(taken, last+1)
	if c.hasTone() {
		for h := 1; float64(h)*c.tone.hertz.Value <= c.top(); h++ {
			k := s.bin(float64(h) * c.tone.hertz.Value)
			out.take(k, s.width(k))
		}
	}
	if out.share(first) > 0.5 {
		return // tone and harmonics stand too close to see what is between
	}
	hum := make(taken, last+1)
	for _, l := range c.humLines {
		hum.take(l.at, lobe+3)
	}
	var plain, weighted noiseSum
	floor := s.floorAt(first)
	for k := first; k <= last; k++ {
		p := s.Power[k]
		if out[k] {
			if !out[k-1] {
				floor = s.floorBeside(k, out.end(k), first, last)
			}
			p = floor
		}
		plain.add(p, hum[k])
		weighted.add(p*aPower(float64(k)*s.BinHertz), hum[k])
	}
	r := &c.result
	r.NoiseVolts, r.NoiseAVolts = plain.rms(s.independent), weighted.rms(s.independent)
	if c.hasTone() {
		r.SNRDecibels = SignalToNoise(r.ToneVolts, r.NoiseVolts)
		r.SNRADecibels = SignalToNoise(r.ToneVolts, r.NoiseAVolts)
	}
}

// floorBeside is the power of noise in a bin on both sides of a gap, as far as the
// band has them.
func (s Spectrum) floorBeside(from, to, first, last int) float64 {
	const away = lobe + 3 + reach
	below, above := from-away, to+away
	switch {
	case below < first:
		return s.floorAt(min(above, last))
	case above > last:
		return s.floorAt(below)
	default:
		return (s.floorAt(below) + s.floorAt(above)) / 2
	}
}

// noiseSum is a sum of bins with what it scatters by.
type noiseSum struct{ sum, squares float64 }

// add adds a bin; steady bins do not scatter.
func (n *noiseSum) add(power float64, steady bool) {
	n.sum += power
	if !steady {
		n.squares += power * power
	}
}

// rms is the root of the sum. The mean of n squares of a bin has a square that is
// 1 + 1/n times the square of its mean, and a window's bins are not independent of
// each other.
func (n noiseSum) rms(parts float64) Measured {
	variance := steep.spread() * n.squares / (1 + 1/parts) / parts
	return Measured{Value: n.sum, U: math.Sqrt(variance)}.root()
}

package audio

import "math"

// line is a steady sine found in a spectrum.
type line struct {
	at     int      // its strongest bin
	hertz  Measured // its frequency
	square Measured // its mean square, in V²
	floor  float64  // the noise in a bin about it, in V²
	height float64  // the power of its strongest bin, in V²
}

// rms is the line's own rms.
func (l line) rms() Measured {
	rms := l.square.root()
	if l.square.Value > 0 {
		// The amplitude of a sine in white noise: variance of one bin's noise over two.
		rms.U = math.Sqrt(l.floor * steep.noiseBandwidthBins() / 2)
	}
	return rms
}

// clear tells whether the line stands clear of the noise about it; noise alone does
// so in one bin of a hundred thousand.
func (l line) clear() bool { return l.height > 12*l.floor && l.square.Value > 0 }

// lineAt measures the line at a frequency, or the highest bin no more than reach
// bins away from it. Its frequency is the middle of its power, which a window
// moves to neither side.
func (s Spectrum) lineAt(hertz float64, reach int) line {
	k := s.bin(hertz)
	for i := max(1, k-reach); i <= min(len(s.Power)-1, k+reach); i++ {
		if s.Power[i] > s.Power[k] {
			k = i
		}
	}
	l := line{at: k, floor: s.floorAt(k), height: s.Power[k]}
	var sum, moment float64
	for i := max(1, k-lobe); i <= min(len(s.Power)-1, k+lobe); i++ {
		net := s.Power[i] - l.floor
		sum += net
		moment += net * float64(i)
	}
	l.square = Measured{Value: sum, U: math.Sqrt((2*lobe + 1) * l.floor * (l.floor + 2*math.Max(0, sum)/(2*lobe+1)))}
	l.hertz = notMeasured()
	if sum > 0 && math.Abs(moment/sum-float64(k)) < lobe {
		l.hertz = Measured{Value: moment / sum * s.BinHertz,
			U: s.BinHertz * math.Sqrt(3*steep.noiseBandwidthBins()*l.floor/sum) / (2 * math.Pi)}
	}
	return l
}

// strongest is the highest line between two frequencies.
func (s Spectrum) strongest(low, high float64) line {
	best := max(1, int(math.Ceil(low/s.BinHertz)))
	for k := best; k <= s.bin(high); k++ {
		if s.Power[k] > s.Power[best] {
			best = k
		}
	}
	return s.lineAt(float64(best)*s.BinHertz, 0)
}

// toneShare is the least part of a channel's power that its strongest line must
// have to be what is played, and not one note of many: the fundamental of a square
// wave has 81 %, of a sawtooth 61 %.
const toneShare = 0.3

// findTone finds the test tone: the line that the caller names, or the strongest one
// in the band if it has enough of the power and is not hum.
func (c *channelAnalysis) findTone() {
	r := &c.result
	if c.options.ToneHertz > 0 {
		if c.options.ToneHertz < leastBins*c.spectrum.BinHertz || c.options.ToneHertz > c.top() {
			return
		}
		reach := int(math.Ceil(0.02 * c.options.ToneHertz / c.spectrum.BinHertz))
		c.setTone(c.spectrum.lineAt(c.options.ToneHertz, reach))
		return
	}
	low := math.Max(bandLow, leastBins*c.spectrum.BinHertz)
	if low >= c.top() {
		return
	}
	tone := c.spectrum.strongest(low, c.top())
	if tone.square.Value < toneShare*r.acSquare || c.isHum(tone) {
		return
	}
	c.setTone(tone)
}

// setTone takes a line as what is played, if it stands out.
func (c *channelAnalysis) setTone(tone line) {
	if !tone.clear() || !tone.hertz.OK() {
		return
	}
	c.tone = tone
	c.result.ToneHertz, c.result.ToneVolts = tone.hertz, tone.rms()
}

func (c *channelAnalysis) hasTone() bool { return c.result.ToneHertz.OK() }

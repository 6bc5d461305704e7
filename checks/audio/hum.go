package audio

import "math"

// humHarmonics is how many lines hum is looked for at: up to 500 or 600 Hz.
const humHarmonics = 10

// mainsSpread is how far the mains may be from its nominal frequency (A-24, common
// practice).
const mainsSpread = 0.01

// findHum finds the mains frequency that gives most hum and its lines. It
// takes a record in which 50 Hz stands apart from its neighbours at both sides.
func (c *channelAnalysis) findHum() {
	var best float64
	for _, mains := range []float64{50, 60} {
		if c.options.MainsHertz != 0 && c.options.MainsHertz != mains || mains < leastBins*c.spectrum.BinHertz {
			continue
		}
		lines, square := c.linesOf(mains)
		if math.IsNaN(c.result.MainsHertz) || square > best {
			best = square
			c.result.MainsHertz, c.humLines = mains, lines
		}
	}
}

// linesOf finds the lines of one mains frequency. The strongest of the first four
// says where the mains really is; the others are looked for at its multiples.
func (c *channelAnalysis) linesOf(mains float64) (lines []line, square float64) {
	s, found := c.spectrum, mains
	var most float64
	for h := 1; h <= 4; h++ {
		nominal := float64(h) * mains
		l := s.lineAt(nominal, int(mainsSpread*nominal/s.BinHertz))
		if l.clear() && l.hertz.OK() && l.square.Value > most && math.Abs(l.hertz.Value/nominal-1) <= mainsSpread {
			most, found = l.square.Value, l.hertz.Value/float64(h)
		}
	}
	if most == 0 {
		return nil, 0
	}
	for h := 1; h <= humHarmonics && float64(h)*found < c.top(); h++ {
		l := s.lineAt(float64(h)*found, 1)
		if l.clear() && l.hertz.OK() && math.Abs(l.hertz.Value-float64(h)*found) < 2*s.BinHertz {
			lines = append(lines, l)
			square += l.square.Value
		}
	}
	return lines, square
}

// isHum tells whether the record's strongest line is hum and no test tone: at the
// mains frequency or one of its first multiples.
func (c *channelAnalysis) isHum(l line) bool {
	for _, known := range c.humLines {
		if known.at == l.at && known.hertz.Value < 4.5*c.result.MainsHertz {
			return true
		}
	}
	return false
}

// measureHum keeps the lines that are not the tone's or its harmonics', and adds
// them up.
func (c *channelAnalysis) measureHum() {
	r := &c.result
	if math.IsNaN(r.MainsHertz) {
		return
	}
	kept := c.humLines[:0]
	var sum, variance float64
	for _, l := range c.humLines {
		if c.ofTone(l.at) {
			continue
		}
		kept = append(kept, l)
		r.Hum = append(r.Hum, HumLine{Harmonic: int(math.Round(l.hertz.Value / r.MainsHertz)), Hertz: l.hertz, Volts: l.rms()})
		u := 2 * l.rms().Value * l.rms().U
		sum, variance = sum+l.square.Value, variance+u*u
	}
	c.humLines = kept
	floor := c.spectrum.floorAt(c.spectrum.bin(r.MainsHertz))
	r.HumVolts = Measured{Value: math.Sqrt(sum)}
	r.HumVolts.U = math.Sqrt(floor * steep.noiseBandwidthBins() / 2)
	if sum > 0 {
		r.HumVolts.U = math.Sqrt(variance) / (2 * r.HumVolts.Value)
	}
}

// ofTone tells whether a bin belongs to the tone or one of its harmonics.
func (c *channelAnalysis) ofTone(k int) bool {
	if !c.hasTone() {
		return false
	}
	hertz := float64(k) * c.spectrum.BinHertz
	h := math.Round(hertz / c.tone.hertz.Value)
	return h >= 1 && math.Abs(hertz-h*c.tone.hertz.Value) <= lobe*c.spectrum.BinHertz
}

package video

import "math"

// flat is a stretch of one line on which the picture keeps its level.
type flat struct {
	from, to float64 // in seconds
	level    float64 // volts
	relative float64 // volts above the line's blanking
	slope    float64 // volts per second
	region   int32   // which line's, -1 for the end of one before the first
	coloured bool    // too much of a subcarrier, or of anything, on it
	broken   bool    // parts of this line are not flat
}

func (f flat) seconds() float64 { return f.to - f.from }

// blockSigma is the rms noise of one block of the scan.
func (a *analysis) blockSigma() float64 {
	return math.Hypot(a.sigma, a.step/math.Sqrt(12)) / math.Sqrt(float64(a.scan.perBlock))
}

// mostLines is a little more than a frame: later lines show the same again.
const mostLines = 700

// findFlats finds the flats of every line from after the burst to the next sync,
// and of the end of the line before the first; of a frame at most.
func (a *analysis) findFlats() {
	lines := a.lines[:min(len(a.lines), mostLines)]
	a.flats = make([]flat, 0, 12*len(lines)+12)
	if len(lines) == 0 {
		return
	}
	if lines[0].start > 3*microsecond {
		a.flatsOfLine(-1, a.lineOf(-1))
	}
	for i, l := range lines {
		a.flatsOfLine(i, l)
	}
}

// lineOf returns the line of a region; -1 is the one before the first, as far as it can
// be told.
func (a *analysis) lineOf(region int) line {
	if region >= 0 {
		return a.lines[region]
	}
	before := a.lines[0]
	before.start -= before.end - before.start
	before.end = a.lines[0].start
	return before
}

// flatsOfLine grows flats block by block: one goes on while the next block is near
// the last four.
func (a *analysis) flatsOfLine(region int, l line) {
	if math.IsNaN(l.porch) {
		l.porch = a.result.BlankingVolts.Value
	}
	s := a.scan
	begin := max(0, s.index(l.start+8.2*microsecond)+1)
	end := min(len(s.means), s.index(l.end-0.15*microsecond))
	tolerance := 0.02*a.scale()*a.nominal.whiteVolts + 3.5*a.blockSigma()
	mine := len(a.flats)
	covered := 0
	for i := begin; i < end; {
		j := i + 1
		sum := s.means[i]
		n := 1.0
		for j < end && math.Abs(s.means[j]-sum/n) <= tolerance {
			sum += s.means[j]
			if n < 4 {
				n++
			} else {
				sum -= s.means[j-4]
			}
			j++
		}
		if j-i >= 3 {
			if a.addFlat(region, l, i, j) {
				covered += j - i
			}
		}
		i = j
	}
	broken := float64(covered) < 0.85*float64(end-begin)
	for i := mine; i < len(a.flats); i++ {
		a.flats[i].broken = broken
	}
}

// addFlat takes blocks i to j as a flat unless they run up or down like a ramp.
func (a *analysis) addFlat(region int, l line, i, j int) bool {
	s := a.scan
	inner := s.means[i:j]
	switch {
	case len(inner) >= 8:
		inner = inner[3 : len(inner)-1]
	case len(inner) >= 5:
		inner = inner[2 : len(inner)-1]
	case len(inner) >= 3:
		inner = inner[1 : len(inner)-1]
	}
	level, slope := mean(inner), 0.0
	if len(inner) >= 8 {
		level, slope, _ = straight(inner)
		slope /= s.dt
		if math.Abs(slope) > 0.25*a.scale()*a.nominal.whiteVolts/(52*microsecond) {
			return false
		}
	}
	f := flat{
		region: int32(region), from: s.at(float64(i) - 0.5), to: s.at(float64(j) - 0.5),
		level: level, relative: level - l.porch, slope: slope,
	}
	f.coloured = a.colouredAt((f.from + f.to) / 2)
	a.flats = append(a.flats, f)
	return true
}

// colouredAt tells whether the samples about instant t swing by more than a small
// share of white: 6 % rms is a subcarrier of 17 % peak to peak.
func (a *analysis) colouredAt(t float64) bool {
	v, _ := a.record.between(t-0.22*microsecond, t+0.22*microsecond)
	if len(v) < 3 {
		return false
	}
	var sum, squares float64
	for _, x := range v {
		x -= v[0]
		sum += x
		squares += x * x
	}
	n := float64(len(v))
	left := (squares - sum*sum/n) / (n - 1)
	allowed := 0.06 * a.scale() * a.nominal.whiteVolts
	return left > allowed*allowed+2*a.sigma*a.sigma
}

package video

import (
	"math"
	"slices"
)

// clipping tells at which end of the record samples are cut off, and how many samples
// lie on each extreme, as far as that was counted.
type clipping struct {
	low, high     bool
	atLow, atHigh int
}

// findClipping compares the extremes with the scope's range, where that is known.
// A few samples on an end may be noise.
func (a *analysis) findClipping() {
	if !a.record.hasRange() {
		return
	}
	near := a.step/2 + 1e-9*(a.record.HighVolts-a.record.LowVolts)
	low, high := a.scan.low <= a.record.LowVolts+near, a.scan.high >= a.record.HighVolts-near
	if !low && !high {
		return
	}
	a.countExtremes()
	few := max(3, len(a.record.Volts)/20000)
	a.clip.low, a.clip.high = low && a.clip.atLow > few, high && a.clip.atHigh > few
}

func (a *analysis) countExtremes() {
	low, high := a.scan.low, a.scan.high
	for _, x := range a.record.Volts {
		if x == low {
			a.clip.atLow++
		}
		if x == high {
			a.clip.atHigh++
		}
	}
}

// guessClipping looks for samples heaped up on an extreme where the range is not
// known: noise is spread over codes, what is cut off is not. Without noise it can't
// be told.
func (a *analysis) guessClipping() {
	if noise := a.loudest(); a.record.hasRange() || noise <= 1e-6 || noise < 0.8*a.step {
		return
	}
	a.countExtremes()
	many := max(8, len(a.record.Volts)/500)
	a.clip.low = a.clip.atLow > many && a.heaped(a.scan.low, 1, a.clip.atLow)
	a.clip.high = a.clip.atHigh > many && a.heaped(a.scan.high, -1, a.clip.atHigh)
}

// loudest is the rms noise that a fifth of the gates exceed: where sync tips are cut
// off there is noise on the porches only.
func (a *analysis) loudest() float64 {
	lefts := make([]float64, 0, len(a.gates))
	for _, g := range a.gates {
		lefts = append(lefts, g.left)
	}
	if len(lefts) == 0 {
		return 0
	}
	slices.Sort(lefts)
	return math.Sqrt(lefts[len(lefts)*4/5])
}

// heaped tells whether at least twice as many samples lie on the extreme as on the
// next code inwards, or within a tenth of the noise where there are no codes.
func (a *analysis) heaped(extreme, inwards float64, on int) bool {
	from, to := 0.5*a.step, 1.5*a.step
	if a.step == 0 {
		from, to = 0, 0.1*a.sigma
	}
	next := 0
	for _, x := range a.record.Volts {
		if d := inwards * (x - extreme); d > from && d <= to {
			next++
		}
	}
	return on > 2*next
}

// atClip tells whether a level lies on a clipped extreme.
func (a *analysis) atClip(level, extreme float64) bool {
	return math.Abs(level-extreme) < 2*a.sigma+1.5*a.step
}

// flatClipped tells whether a flat is cut off, so that its noise is too.
func (a *analysis) flatClipped(f flat) bool {
	return a.clip.high && a.atClip(f.level, a.scan.high) || a.clip.low && a.atClip(f.level, a.scan.low)
}

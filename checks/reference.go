package checks

import (
	"math"

	"soakline/device"
)

// measure returns which measure of the other test point a check of m is compared
// with.
func (r Reference) measure(m device.Measure) device.Measure {
	if r.Measure != "" {
		return r.Measure
	}
	return m
}

// Key returns the check that readings come from as a reference; ok is false
// where there is no other test point.
func (r Reference) Key(m device.Measure) (key CheckKey, ok bool) {
	return CheckKey{TestPoint: r.TestPoint, Measure: r.measure(m)}, r.TestPoint != ""
}

// reference is what is subtracted from readings, as it is known so far.
type reference struct {
	at    stamp
	value float64
	u     float64
	known bool
}

// subtract returns the figure that the limit applies to and its uncertainty. The
// two are taken as independent, although one meter's readings are not: that
// makes the uncertainty larger than it is, never smaller (JCGM 100:2008, 5.2.2
// with a correlation of 0 in place of a positive one).
func (r *reference) subtract(y, u float64) (figure, figureU float64) {
	if !r.known {
		return y, u
	}
	return y - r.value, rootSumSquares(u, r.u)
}

// baseline averages a unit's own first readings.
type baseline struct {
	until  stamp // readings before it belong to the baseline
	values stream
	us     stream
}

// take adds a reading, and returns true once the baseline is complete: then the
// reading is not part of it. A first reading that comes late moves the end, so
// that there are always readings over the whole time.
func (b *baseline) take(t, start stamp, fresh span, y, u float64) (complete bool) {
	if b.values.n == 0 && t-start > fresh {
		b.until += t - start
	}
	if t >= b.until && b.values.n > 0 {
		return true
	}
	b.values.add(y)
	b.us.add(u)
	return false
}

// reference returns the mean with its uncertainty: the instrument's, which does
// not average out, and that of a mean of scattered readings (JCGM 100:2008, 4.2.3).
func (b *baseline) reference() reference {
	u := b.us.mean
	if b.values.n > 1 {
		u = rootSumSquares(u, TypeA(b.values.spread(), b.values.n).Standard)
	}
	return reference{value: b.values.mean, u: u, known: true}
}

// givenUncertainty returns a reading's standard uncertainty, 0 where none is given.
func givenUncertainty(r device.Reading) float64 {
	if r.StandardUncertainty > 0 {
		return r.StandardUncertainty
	}
	return 0
}

// rootSumSquares is math.Hypot, which differs in the last bit between machines,
// without its care for numbers near the ends of float64.
func rootSumSquares(a, b float64) float64 {
	return math.Sqrt(float64(a*a) + float64(b*b))
}

package book

import (
	"math"
	"strconv"
)

// clause gives the uncertainty of a reading from its value as an instrument's
// accuracy clause does: a part of the reading and a fixed part as the half width of
// a rectangular distribution, and one step of the last digit (JCGM 100:2008, 4.3.7
// and F.2.2.1). A block whose uncertainties it gives, all of them to the last bit,
// keeps it in their place. The formula is part of the form: it may never change.
type clause struct {
	percent    float64 // of the reading
	fixed      float64 // in the measure's unit
	resolution float64 // in the measure's unit; NaN: the digits tell it
}

// u is the uncertainty of a figure. The conversions keep processors that can fuse
// a product with a sum from doing so.
func (c clause) u(f *figure) float64 {
	resolution := c.resolution
	if resolution != resolution {
		resolution = pow10(f.exponent)
	}
	half := float64(c.percent*math.Abs(f.value)/100) + c.fixed
	a, q := half/math.Sqrt(3), resolution/math.Sqrt(12)
	return math.Sqrt(float64(a*a) + float64(q*q))
}

func (c clause) fits(figures []figure) bool {
	for i := range figures {
		if c.u(&figures[i]) != figures[i].u {
			return false
		}
	}
	return true
}

// findClause looks for the clause of a block; ok is false where there is none that
// a data sheet might have: of few digits.
func findClause(figures []figure) (c clause, ok bool) {
	near, far := &figures[0], &figures[0]
	for i := range figures {
		f := &figures[i]
		if f.kind != figureDecimal {
			return clause{}, false
		}
		if math.Abs(f.value) < math.Abs(near.value) {
			near = f
		}
		if math.Abs(f.value) > math.Abs(far.value) {
			far = f
		}
	}
	if near.value == far.value {
		return clause{}, false
	}
	for _, resolution := range []float64{math.NaN(), 0, 10 * pow10(near.exponent), 100 * pow10(near.exponent)} {
		if c, ok := throughTwo(near, far, resolution); ok && c.fits(figures) {
			return c, true
		}
	}
	return clause{}, false
}

// throughTwo solves the clause for two figures, and rounds its parts to the
// decimals that they must have been.
func throughTwo(near, far *figure, resolution float64) (clause, bool) {
	x, y := halfWidth(near, resolution), halfWidth(far, resolution)
	c := clause{resolution: resolution}
	c.percent = round(100*(y-x)/(math.Abs(far.value)-math.Abs(near.value)), 6)
	rest := x - c.percent*math.Abs(near.value)/100
	for _, digits := range []int{6, 8} {
		fixed := round(rest, digits)
		if math.Abs(fixed) < 1e-9*x {
			fixed = 0
		}
		for _, candidate := range []float64{fixed, math.Nextafter(fixed, math.Inf(1)), math.Nextafter(fixed, math.Inf(-1))} {
			if c.fixed = candidate; c.u(near) == near.u && c.u(far) == far.u {
				return c, true
			}
		}
	}
	return c, false
}

// halfWidth undoes the part of the last digit.
func halfWidth(f *figure, resolution float64) float64 {
	if resolution != resolution {
		resolution = pow10(f.exponent)
	}
	return math.Sqrt(3 * (f.u*f.u - resolution*resolution/12))
}

// round returns the float nearest to v in so many significant digits.
func round(v float64, digits int) float64 {
	rounded, err := strconv.ParseFloat(strconv.FormatFloat(v, 'e', digits-1, 64), 64)
	if err != nil {
		return math.NaN()
	}
	return rounded
}

// pow10 is the resolution of digits, as scpi.Decimal gives it.
func pow10(exponent int32) float64 {
	if exponent >= 0 && exponent <= 22 {
		return tens[exponent]
	}
	if exponent < 0 && exponent >= -22 {
		return 1 / tens[-exponent]
	}
	v, _ := strconv.ParseFloat("1E"+strconv.Itoa(int(exponent)), 64) // out of range is an infinity
	return v
}

// tens are the powers of ten that a float64 holds exactly.
var tens = [...]float64{
	1, 1e1, 1e2, 1e3, 1e4, 1e5, 1e6, 1e7, 1e8, 1e9, 1e10, 1e11,
	1e12, 1e13, 1e14, 1e15, 1e16, 1e17, 1e18, 1e19, 1e20, 1e21, 1e22,
}

package drift

import "math"

// compensated is a sum that keeps what rounding takes away, about 32 digits in
// all (the error-free sum and product of Knuth and Dekker; from memory). Products
// are rounded explicitly, so that every machine gets the same bits.
type compensated struct{ high, low float64 }

func (c *compensated) add(x float64) {
	sum := c.high + x
	part := sum - c.high
	c.low += (c.high - (sum - part)) + (x - part)
	c.high = sum
}

func (c *compensated) addProduct(x, y float64) {
	p := float64(x * y)
	c.low += math.FMA(x, y, -p)
	c.add(p)
}

func (c *compensated) value() float64 { return c.high + c.low }

// minusSquareOver returns c - sum*sum/n: sums of squares about the mean from sums
// about any other point, without the usual loss of digits.
func (c *compensated) minusSquareOver(sum compensated, n float64) float64 {
	mean := sum.high / n
	rest := (math.FMA(-mean, n, sum.high) + sum.low) / n
	p := float64(sum.high * mean)
	e := math.FMA(sum.high, mean, -p) + float64(sum.low*mean) + float64(sum.high*rest)
	return (c.high - p) + (c.low - e)
}

// overPlus returns c/n + x, rounded once: the mean from a sum about x.
func (c compensated) overPlus(n, x float64) float64 {
	high := c.high / n
	low := (math.FMA(-high, n, c.high) + c.low) / n
	mean := compensated{high: x, low: low}
	mean.add(high)
	return mean.value()
}

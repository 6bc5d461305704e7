package page

import (
	"math"
	"strconv"
)

// Column is figures in the order of time; what is not known is null.
type Column []float64

// MarshalJSON writes each figure with as many digits as it has.
func (c Column) MarshalJSON() ([]byte, error) {
	text := make([]byte, 0, 2+10*len(c))
	text = append(text, '[')
	for i, x := range c {
		if i > 0 {
			text = append(text, ',')
		}
		if math.IsNaN(x) || math.IsInf(x, 0) {
			text = append(text, "null"...)
		} else {
			text = strconv.AppendFloat(text, x, 'g', -1, 64)
		}
	}
	return append(text, ']'), nil
}

// meanDigits are more than any instrument has, and fewer than a sum leaves.
const meanDigits = 9

// rounded is a figure that was calculated, without the digits that say nothing.
func rounded(x float64) float64 {
	short, err := strconv.ParseFloat(strconv.FormatFloat(x, 'g', meanDigits, 64), 64)
	if err != nil {
		return x
	}
	return short
}

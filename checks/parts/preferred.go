package parts

import (
	"fmt"
	"math"
	"slices"
	"strconv"
	"strings"
)

// Series is a series of preferred numbers of IEC 60063: E12 has twelve a decade.
type Series int

// The series of IEC 60063. E192 is left out: nobody stocks it at a bench.
const (
	E3  Series = 3
	E6  Series = 6
	E12 Series = 12
	E24 Series = 24
	E48 Series = 48
	E96 Series = 96
)

// e24 is listed because eight of its values are not the rounded power of ten.
var e24 = []int{
	10, 11, 12, 13, 15, 16, 18, 20, 22, 24, 27, 30,
	33, 36, 39, 43, 47, 51, 56, 62, 68, 75, 82, 91,
}

// String returns the series' name, "E12".
func (s Series) String() string { return "E" + strconv.Itoa(int(s)) }

// MarshalText writes the name of the series.
func (s Series) MarshalText() ([]byte, error) { return []byte(s.String()), nil }

// ParseSeries reads the name of a series ("E12", "e12").
func ParseSeries(text string) (Series, error) {
	name := strings.ToUpper(strings.TrimSpace(text))
	for _, s := range []Series{E3, E6, E12, E24, E48, E96} {
		if s.String() == name {
			return s, nil
		}
	}
	return 0, fmt.Errorf("series %q is not one of E3, E6, E12, E24, E48, E96", text)
}

// codes returns the numbers of one decade as whole numbers and how many digits
// stand behind the point when they are written as 1 to 10; nil for no series.
func (s Series) codes() (codes []int, decimals int) {
	switch s {
	case E3, E6, E12, E24:
		for i := 0; i < len(e24); i += len(e24) / int(s) {
			codes = append(codes, e24[i])
		}
		return codes, 1
	case E48, E96:
		for i := range int(s) {
			codes = append(codes, int(math.Round(100*math.Pow(10, float64(i)/float64(s)))))
		}
		return codes, 2
	}
	return nil, 0
}

// Between lists the preferred values from low to high, both included (a relative
// 1e-9 is forgiven), in rising order. It is nil unless 1e-300 <= low <= high, both
// finite, and s is a series.
func (s Series) Between(low, high float64) []float64 {
	if !(low >= 1e-300 && low <= high) || math.IsInf(high, 1) {
		return nil
	}
	codes, decimals := s.codes()
	var values []float64
	for decade := decadeOf(low); decade <= decadeOf(high)+1; decade++ {
		for _, code := range codes {
			v := preferredValue(code, decade-decimals)
			if v >= low*(1-1e-9) && v <= high*(1+1e-9) {
				values = append(values, v)
			}
		}
	}
	return values
}

// decadeOf is the power of ten at or below x, one lower where rounding could
// have put x into the decade above.
func decadeOf(x float64) int { return int(math.Floor(math.Log10(x) - 1e-9)) }

// preferredValue is code times a power of ten, correctly rounded: 4.7 n is the
// same float as "4.7e-9" gives.
func preferredValue(code, power int) float64 {
	v, _ := strconv.ParseFloat(strconv.Itoa(code)+"e"+strconv.Itoa(power), 64) // always a number
	return v
}

// Neighbours returns the largest preferred value at or below x and the smallest
// at or above it; both are the same where x is a preferred value (to a relative
// 1e-9). Both are NaN unless x is from 1e-299 to 1e307 and s is a series.
func (s Series) Neighbours(x float64) (below, above float64) {
	around := s.Between(x/10, x*10)
	if around == nil {
		return math.NaN(), math.NaN()
	}
	i := slices.IndexFunc(around, func(v float64) bool { return v >= x*(1-1e-9) })
	above, below = around[i], around[i]
	if above > x*(1+1e-9) {
		below = around[i-1]
	}
	return below, above
}

// Nearest returns the preferred value nearest to x in ratio; the lower one where
// both neighbours are equally near. NaN as for Neighbours.
func (s Series) Nearest(x float64) float64 {
	below, above := s.Neighbours(x)
	if x/below <= above/x {
		return below
	}
	return above
}

package book

import "math"

// summary is what an overview needs to know of readings.
type summary struct {
	count     int64
	first     int64 // microseconds
	last      int64
	low, high float64
	sum       float64
}

// summarize needs at least one figure, in time order.
func summarize(figures []figure) summary {
	s := summary{
		count: int64(len(figures)), first: figures[0].at, last: figures[len(figures)-1].at,
		low: figures[0].value, high: figures[0].value, sum: sumOf(figures),
	}
	for i := range figures {
		v := figures[i].value
		if v < s.low {
			s.low = v
		}
		if v > s.high {
			s.high = v
		}
	}
	return s
}

// mostWhole bounds coefficients so that a block of them can be added up exactly.
const mostWhole = 1 << 50

// sumOf adds the coefficients where they have one exponent, which rounds only
// once, and otherwise the values.
func sumOf(figures []figure) float64 {
	var whole int64
	for i := range figures {
		f := &figures[i]
		if f.kind != figureDecimal || f.exponent != figures[0].exponent || f.coefficient > mostWhole || f.coefficient < -mostWhole {
			return sumOfValues(figures)
		}
		whole += f.coefficient
	}
	return decimalValue(whole, figures[0].exponent)
}

func sumOfValues(figures []figure) float64 {
	sum := 0.0
	for i := range figures {
		sum += figures[i].value
	}
	return sum
}

// add takes another summary in; the zero summary is of nothing.
func (s *summary) add(other summary) {
	if s.count == 0 {
		*s = other
		return
	}
	s.count += other.count
	s.first, s.last = min(s.first, other.first), max(s.last, other.last)
	s.low, s.high = math.Min(s.low, other.low), math.Max(s.high, other.high)
	s.sum += other.sum
}

package drift

import "math"

// MannKendall is the rank test for a trend in one direction, of whatever shape.
type MannKendall struct {
	N int
	// S is the number of pairs that rise less the number that fall.
	S int
	// Variance is that of S without a trend, less what ties take away.
	Variance float64
	// Z is the standard score with continuity correction.
	Z float64
	// P is the two-sided probability of such an S without a trend: exact up to ten
	// values without ties, else PNormal, from the normal distribution.
	P, PNormal float64
}

// exactUpTo is the longest series that P is exact for; above, the normal
// distribution is near enough (common practice).
const exactUpTo = 10

// MannKendallOf tests values in the order of their times (Mann 1945, Kendall 1975;
// US EPA 530/R-09-007, chapter 17, has worked examples). Values must be finite.
// Below two values, or if all are equal, Z is 0 and P 1.
func MannKendallOf(v []float64) MannKendall {
	m := MannKendall{N: len(v)}
	for i := range v {
		for _, later := range v[i+1:] {
			switch {
			case later > v[i]:
				m.S++
			case later < v[i]:
				m.S--
			}
		}
	}
	tied := tiedPairsTerm(v)
	m.Variance = (pairTerm(len(v)) - tied) / 18
	m.score()
	if tied == 0 && len(v) <= exactUpTo {
		m.P = exactP(m.S, len(v))
	}
	return m
}

// Inflated returns the test with the variance raised by a factor, for readings
// that resemble their neighbours (Bayley and Hammersley 1946; Yue and Wang, Water
// Resour. Manage. 18, 2004; from memory). A factor of 1 or less changes nothing.
func (m MannKendall) Inflated(by float64) MannKendall {
	if !(by > 1) {
		return m
	}
	m.Variance *= by
	m.score()
	return m
}

func (m *MannKendall) score() {
	m.Z = 0
	switch {
	case !(m.Variance > 0):
	case m.S > 0:
		m.Z = float64(m.S-1) / math.Sqrt(m.Variance)
	case m.S < 0:
		m.Z = float64(m.S+1) / math.Sqrt(m.Variance)
	}
	m.PNormal = math.Erfc(math.Abs(m.Z) / math.Sqrt2)
	m.P = m.PNormal
}

// pairTerm is n (n - 1)(2 n + 5), without overflow.
func pairTerm(n int) float64 { return float64(n) * float64(n-1) * float64(2*n+5) }

func tiedPairsTerm(v []float64) float64 {
	groups := map[float64]int{}
	for _, x := range v {
		groups[x]++
	}
	// A sum of whole numbers is the same in any order.
	sum := 0.0
	for _, n := range groups {
		sum += pairTerm(n)
	}
	return sum
}

// exactP counts the orders of n different values whose S is at least as far from
// zero. An order with k pairs that fall has S = n (n - 1)/2 - 2 k, and the numbers
// of orders by k follow from those of one value less.
func exactP(s, n int) float64 {
	orders := []float64{1}
	all := 1.0
	for size := 2; size <= n; size++ {
		next := make([]float64, len(orders)+size-1)
		for k, count := range orders {
			for falls := range size {
				next[k+falls] += count
			}
		}
		orders = next
		all *= float64(size)
	}
	far := 0.0
	for k, count := range orders {
		if abs(len(orders)-1-2*k) >= abs(s) {
			far += count
		}
	}
	return far / all
}

func abs(n int) int { return max(n, -n) }

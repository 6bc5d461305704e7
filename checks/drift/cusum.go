package drift

// CUSUM is the tabular cumulative sum chart, upper and lower
// (NIST/SEMATECH e-Handbook 6.3.2.3).
type CUSUM struct {
	target, slack, threshold float64
	high, low                float64
	highRun, lowRun          int
}

// NewCUSUM returns a chart about target. slack is what a value may deviate
// without being summed, threshold what a sum must exceed, both in the values' unit
// (K = k sigma and H = h sigma of the textbooks).
func NewCUSUM(target, slack, threshold float64) CUSUM {
	return CUSUM{target: target, slack: slack, threshold: threshold}
}

// Add takes a value; it returns 1 if the upper sum is now above the threshold, -1
// if the lower one is, else 0. The sums go on after an alarm.
func (c *CUSUM) Add(x float64) int {
	c.high, c.highRun = grow(c.high, c.highRun, x-c.target-c.slack)
	c.low, c.lowRun = grow(c.low, c.lowRun, c.target-x-c.slack)
	switch {
	case c.high > c.threshold:
		return 1
	case c.low > c.threshold:
		return -1
	}
	return 0
}

func grow(sum float64, run int, by float64) (float64, int) {
	if sum += by; sum > 0 {
		return sum, run + 1
	}
	return 0, 0
}

// Sums returns the upper and the lower sum, both 0 or above.
func (c *CUSUM) Sums() (high, low float64) { return c.high, c.low }

// Runs returns how many values ago each sum left zero: a shift that raised an
// alarm probably began after that many values back (common practice).
func (c *CUSUM) Runs() (high, low int) { return c.highRun, c.lowRun }

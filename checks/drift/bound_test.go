package drift

import (
	"math"
	"testing"

	"gonum.org/v1/gonum/stat/distuv"
)

// rampSE is the standard error of the generalised least squares slope (per hour) of a
// drift that begins at a known time, among readings of standard deviation 1 with a known
// autocorrelation phi and an unknown level: X' V^-1 X with the AR(1) transformation
// (Prais and Winsten, 1954; Hamilton, Time Series Analysis, 1994, 8.3; from memory).
func rampSE(phi, hours, from float64) float64 {
	n := int(hours * 3600 / soakEvery)
	ramp := func(i int) float64 { return max(0, float64(i)*soakEvery/3600-from) }
	first := math.Sqrt(1 - phi*phi)
	ll, lr, rr := first*first, first*ramp(0)*first, first*ramp(0)*first*ramp(0)
	for i := 1; i < n; i++ {
		l, r := 1-phi, ramp(i)-phi*ramp(i-1)
		ll, lr, rr = ll+l*l, lr+l*r, rr+r*r
	}
	return math.Sqrt(first * first / (rr - lr*lr/ll))
}

// TestWhatTheBestTestCouldFind is the bound of Neyman and Pearson beside what
// TestDriftIsFoundWithinFourHours finds: the power of the best single look after 4 h at
// a drift of 0.5 % of the band an hour, at the false alarms of a whole soak (0.5 %, two
// sides). It knows noise, correlation and the time of the begin, and looks but once; a
// watch knows none of them and looks all the time.
func TestWhatTheBestTestCouldFind(t *testing.T) {
	normal := distuv.UnitNormal
	width := normal.Quantile(1 - 0.005/2)
	for _, row := range []struct{ phi, atOnce, later float64 }{
		{0, 1, 1}, {0.7, 1, 1}, {0.8, 0.999, 1}, {0.9, 0.98, 1}, {0.95, 0.75, 0.999},
	} {
		atOnce, later := normal.CDF(0.5/rampSE(row.phi, 4, 0)-width), normal.CDF(0.5/rampSE(row.phi, 12, 8)-width)
		t.Logf("autocorrelation %.2f: at best %.1f %% from the first reading, %.1f %% after 8 h", row.phi, 100*atOnce, 100*later)
		if math.Abs(atOnce-row.atOnce) > 0.05 || math.Abs(later-row.later) > 0.05 {
			t.Errorf("autocorrelation %g: %g and %g, want about %g and %g", row.phi, atOnce, later, row.atOnce, row.later)
		}
	}
	// For many readings the textbook's closed form: 12 s^2 (1 + phi)/(1 - phi)/(n T^2).
	n := 4 * 3600 / soakEvery
	for _, phi := range []float64{0, 0.5, 0.9} {
		closed := math.Sqrt(12 * (1 + phi) / (1 - phi) / n / 16)
		if got := rampSE(phi, 4, 0); math.Abs(got-closed) > 0.03*closed {
			t.Errorf("autocorrelation %g: %g, closed form %g", phi, got, closed)
		}
	}
}

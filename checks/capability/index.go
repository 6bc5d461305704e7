package capability

import (
	"math"

	"gonum.org/v1/gonum/stat"
	"gonum.org/v1/gonum/stat/distuv"
)

// FewestUnits is how many units there must be before an index is given: with fewer
// its interval reaches from useless to splendid (common practice asks for 25 to 50;
// with 10 the interval of Cp is still half to one and a half times its value).
const FewestUnits = 10

// Indices says how the spread of some figures stands to limits.
type Indices struct {
	N        int
	Mean, SD float64
	// Low and High are the smallest and the largest figure.
	Low, High float64
	// Cp is how often six standard deviations fit between the limits; NaN where one
	// is open. Cpk is how often three fit between the mean and the nearer limit. Both
	// are NaN for fewer than FewestUnits figures, or figures that are all alike.
	Cp, Cpk                 float64
	CpInterval, CpkInterval Interval
}

// Index computes the indices of figures against a low and a high limit, an open one
// being an infinity, at a confidence level.
//
//	Cp = (high - low) / 6s, Cpk = min(high - mean, mean - low) / 3s
//	Cp interval:  Cp √(χ²(α/2; n-1) / (n-1)) to Cp √(χ²(1-α/2; n-1) / (n-1))
//	Cpk interval: Cpk ± z √(1/9n + Cpk²/2(n-1))
//
// (NIST/SEMATECH e-Handbook of Statistical Methods, 6.1.6; the Cpk interval is a
// normal approximation.) Figures that are not finite are left out.
func Index(figures []float64, low, high, confidence float64) Indices {
	kept := finite(figures)
	x := Indices{N: len(kept), Mean: math.NaN(), SD: math.NaN(), Low: math.NaN(), High: math.NaN(), Cp: math.NaN(), Cpk: math.NaN(),
		CpInterval: notKnown, CpkInterval: notKnown}
	if x.N == 0 {
		return x
	}
	x.Mean, x.Low, x.High = stat.Mean(kept, nil), kept[0], kept[0]
	for _, v := range kept {
		x.Low, x.High = math.Min(x.Low, v), math.Max(x.High, v)
	}
	if x.N > 1 {
		x.SD = stat.StdDev(kept, nil)
	}
	if x.N >= FewestUnits && x.SD > 0 && level(confidence) {
		x.index(low, high, confidence)
	}
	return x
}

func finite(figures []float64) []float64 {
	var kept []float64
	for _, v := range figures {
		if !math.IsNaN(v) && !math.IsInf(v, 0) {
			kept = append(kept, v)
		}
	}
	return kept
}

func (x *Indices) index(low, high, confidence float64) {
	n, above, below := float64(x.N), (high-x.Mean)/(3*x.SD), (x.Mean-low)/(3*x.SD)
	if nearer := math.Min(above, below); !math.IsInf(nearer, 0) && !math.IsNaN(nearer) {
		half := twoSided(confidence) * math.Sqrt(1/(9*n)+nearer*nearer/(2*(n-1)))
		x.Cpk, x.CpkInterval = nearer, Interval{nearer - half, nearer + half}
	}
	if wide := (high - low) / (6 * x.SD); !math.IsInf(wide, 0) && !math.IsNaN(wide) {
		chi := distuv.ChiSquared{K: n - 1}
		x.Cp = wide
		x.CpInterval = Interval{
			wide * math.Sqrt(chi.Quantile((1-confidence)/2)/(n-1)),
			wide * math.Sqrt(chi.Quantile((1+confidence)/2)/(n-1)),
		}
	}
}

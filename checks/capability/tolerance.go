package capability

import (
	"math"

	"gonum.org/v1/gonum/stat/distuv"
)

// ToleranceFactor returns k such that mean - k s to mean + k s holds at least the
// share coverage of a normal population with the confidence given, from n figures
// (Howe's approximation; NIST/SEMATECH e-Handbook, 7.2.6.3). NaN for fewer than two
// figures.
//
//	k = z((1+coverage)/2) √((n-1)(1+1/n) / χ²(1-confidence; n-1))
func ToleranceFactor(n int, coverage, confidence float64) float64 {
	if n < 2 || !level(coverage) || !level(confidence) {
		return math.NaN()
	}
	size := float64(n)
	chi := distuv.ChiSquared{K: size - 1}.Quantile(1 - confidence)
	return twoSided(coverage) * math.Sqrt((size-1)*(1+1/size)/chi)
}

// OneSidedFactor is ToleranceFactor where only one side counts: at least the share
// coverage lies below mean + k s. It is the quantile of the noncentral t
// distribution with n-1 degrees of freedom, k = t(confidence; n-1, z √n) / √n.
func OneSidedFactor(n int, coverage, confidence float64) float64 {
	if n < 2 || !level(coverage) || !level(confidence) {
		return math.NaN()
	}
	root := math.Sqrt(float64(n))
	t := distuv.NoncentralT{Nu: float64(n - 1), Mu: distuv.UnitNormal.Quantile(coverage) * root}
	return t.Quantile(confidence) / root
}

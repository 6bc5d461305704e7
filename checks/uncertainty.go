package checks

import (
	"math"

	"gonum.org/v1/gonum/stat/distuv"

	"soakline/device"
)

// CoverageFactor is the k of every expanded uncertainty U = k u that is shown or
// that a guard band is made of: about 95 % of a normal distribution (JCGM
// 100:2008, 6.2 and 6.3.3).
const CoverageFactor = 2

// Uncertainty is a standard uncertainty with what is known about itself.
type Uncertainty struct {
	// Standard is one standard uncertainty in the unit of its figure.
	Standard float64
	// Degrees are the degrees of freedom; +Inf where the uncertainty is known
	// exactly, as Type B ones are taken to be (JCGM 100:2008, G.4.3).
	Degrees float64
}

// TypeA returns the uncertainty of the mean of n readings with standard deviation
// sd (divisor n - 1): sd/sqrt(n) with n - 1 degrees of freedom (JCGM 100:2008,
// 4.2.3). NaN for fewer than two readings.
func TypeA(sd float64, n int) Uncertainty {
	if n < 2 {
		return Uncertainty{Standard: math.NaN(), Degrees: math.NaN()}
	}
	return Uncertainty{Standard: sd / math.Sqrt(float64(n)), Degrees: float64(n - 1)}
}

// Rectangular returns a/sqrt(3), for anything within ± a (JCGM 100:2008, 4.3.7).
func Rectangular(a float64) Uncertainty { return typeB(a / math.Sqrt(3)) }

// Triangular returns a/sqrt(6), for values near the middle of ± a more likely
// than at its ends (JCGM 100:2008, 4.3.9).
func Triangular(a float64) Uncertainty { return typeB(a / math.Sqrt(6)) }

// UShaped returns a/sqrt(2), for a sine of amplitude a read at a random moment
// (common practice, no clause read).
func UShaped(a float64) Uncertainty { return typeB(a / math.Sqrt2) }

// Stated returns U/k for an uncertainty that a certificate gives with its k (JCGM
// 100:2008, 4.3.3).
func Stated(expanded, k float64) Uncertainty { return typeB(expanded / k) }

// Resolution returns q/sqrt(12) for one step q of the last digit (JCGM 100:2008,
// F.2.2.1).
func Resolution(q float64) Uncertainty { return typeB(q / math.Sqrt(12)) }

func typeB(u float64) Uncertainty { return Uncertainty{Standard: u, Degrees: math.Inf(1)} }

// Times returns what u contributes to a result that changes c times as much as
// the quantity itself: |c| u (JCGM 100:2008, 5.1.3).
func (u Uncertainty) Times(c float64) Uncertainty {
	return Uncertainty{Standard: math.Abs(c) * u.Standard, Degrees: u.Degrees}
}

// Expanded returns U = CoverageFactor u.
func (u Uncertainty) Expanded() float64 { return CoverageFactor * u.Standard }

// Coverage returns the k that a level of confidence p asks for: the two-sided
// quantile of Student's t with the degrees of freedom cut to a whole number, or
// of the normal distribution where they are infinite (JCGM 100:2008, G.6.4). NaN
// below one degree of freedom.
func (u Uncertainty) Coverage(p float64) float64 {
	whole := math.Floor(u.Degrees)
	switch {
	case math.IsInf(whole, 1):
		return distuv.UnitNormal.Quantile((1 + p) / 2)
	case whole >= 1:
		return distuv.StudentsT{Mu: 0, Sigma: 1, Nu: whole}.Quantile((1 + p) / 2)
	default:
		return math.NaN()
	}
}

// Combine returns the root sum of squares of independent contributions (JCGM
// 100:2008, 5.1.2) with the effective degrees of freedom of Welch and
// Satterthwaite, u^4 / sum(u_i^4/v_i) (G.4.1). Of nothing it is 0, known exactly.
func Combine(parts ...Uncertainty) Uncertainty {
	var squares, spread float64
	for _, p := range parts {
		square := p.Standard * p.Standard
		squares += square
		spread += square * square / p.Degrees
	}
	if spread == 0 {
		return typeB(math.Sqrt(squares))
	}
	return Uncertainty{Standard: math.Sqrt(squares), Degrees: squares * squares / spread}
}

// FromAccuracy returns one standard uncertainty of a reading of value from an
// instrument's accuracy clause: the clause as the half width of a rectangular
// distribution, and one step of the last digit, which is the clause's own or, if
// it has none, the resolution given (JCGM 100:2008, 4.3.7 and F.2.2.1). It is 0,
// not known, if the clause is all zero: the digits alone would promise too much.
func FromAccuracy(a device.Accuracy, value, resolution float64) float64 {
	if a.PercentOfReading == 0 && a.PercentOfRange == 0 && a.Resolution == 0 {
		return 0
	}
	if a.Resolution > 0 {
		resolution = a.Resolution
	}
	half := float64(a.PercentOfReading*math.Abs(value)/100) + float64(a.PercentOfRange*a.Range/100)
	return Combine(Rectangular(half), Resolution(resolution)).Standard
}

// ConformanceProbability is the chance that what was read as y with standard
// uncertainty u truly keeps to the limit, normally distributed and with nothing
// known beforehand: Phi((High - y)/u) - Phi((Low - y)/u) (JCGM 106:2012, 7.2 to
// 7.4). With u 0 it is 0 or 1. It tells people how sure a figure is; no verdict
// depends on it.
func ConformanceProbability(l Limit, y, u float64) float64 {
	switch {
	case math.IsNaN(y) || !(u >= 0):
		return math.NaN()
	case u == 0 && l.inside(y, 0):
		return 1
	case u == 0:
		return 0
	}
	return distuv.UnitNormal.CDF((l.High-y)/u) - distuv.UnitNormal.CDF((l.Low-y)/u)
}

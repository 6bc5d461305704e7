package supply

import (
	"math"
	"math/rand/v2"
	"slices"
	"testing"

	"soakline/checks"
)

// rectified is the voltage of a reservoir with ideal diodes at t seconds: the sine
// where it is above the straight fall that leaves it, W-22.
func rectified(t, peak, mains, amperesPerFarad float64, half bool) float64 {
	period := 1 / (2 * mains)
	if half {
		period *= 2
	}
	omega := 2 * math.Pi * mains
	t -= math.Floor(t/period) * period
	leave := math.Asin(amperesPerFarad/(omega*peak)) / omega
	sine := func(t float64) float64 { return peak * math.Cos(omega*t) }
	if t < leave {
		return sine(t)
	}
	rising := 0.0
	if t > period-1/(4*mains) {
		rising = sine(t - period)
	}
	return max(sine(leave)-amperesPerFarad*(t-leave), rising)
}

// record samples a voltage with normal noise.
func record(at func(t float64) float64, seconds, interval, sd float64) Record {
	random := rand.New(rand.NewPCG(3, 3))
	v := make([]float64, int(seconds/interval+0.5))
	for i := range v {
		v[i] = at(float64(i)*interval) + sd*random.NormFloat64()
	}
	return Record{Volts: v, SampleIntervalSeconds: interval}
}

func analysed(t testing.TB, r Record, o Options) Result {
	t.Helper()
	result, err := Analyse(r, o)
	if err != nil {
		t.Fatal(err)
	}
	return result
}

func has(findings []checks.Finding, code checks.FindingCode) bool {
	return slices.ContainsFunc(findings, func(f checks.Finding) bool { return f.Code == code })
}

func near(t testing.TB, what string, got, want, tolerance float64) {
	t.Helper()
	if !(math.Abs(got-want) <= tolerance*math.Abs(want)) {
		t.Errorf("%s: got %.9g, want %.9g within %g", what, got, want, tolerance)
	}
}

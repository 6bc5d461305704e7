package supply

import (
	"math"
	"math/cmplx"

	"gonum.org/v1/gonum/dsp/fourier"
)

// lines is the ripple's share at a mains frequency and at twice that.
type lines struct {
	hertz       float64 // of the mains, as found
	once, twice float64 // amplitudes, V
}

const (
	mostSpectral = 1 << 15
	mainsReach   = 0.02 // how far the mains may be from nominal
	leastPeriods = 3    // mains periods of a record, for a frequency
	// legOutFrom is the amplitude at once the mains frequency from which a leg is
	// out, as a share of that at twice: half wave has about two, full wave none.
	legOutFrom = 0.7
	// unevenFrom is from which share on the legs differ (common practice, no source).
	unevenFrom = 0.1
)

// mainsLines looks for ripple at the mains frequency and twice that, in volts at an
// interval, and tells whether it stands out of the rest.
func mainsLines(volts []float64, interval, nominal float64) (lines, bool) {
	v, each := blocks(volts, mostSpectral)
	interval *= float64(each)
	seconds := float64(len(v)) * interval
	if seconds*nominal < leastPeriods || interval*nominal > 1.0/8 {
		return lines{}, false
	}
	windowed := hann(v)
	best := lines{}
	power := -1.0
	for _, reach := range []float64{mainsReach, mainsReach / 12} {
		centre := nominal
		if best.hertz > 0 {
			centre = best.hertz
		}
		for i := -12; i <= 12; i++ {
			f := centre * (1 + reach*float64(i)/12)
			l := lines{hertz: f, once: amplitude(windowed, interval*f), twice: amplitude(windowed, 2*interval*f)}
			// At twice the frequency a step is worth twice as much.
			if p := l.once*l.once + l.twice*l.twice; p > power {
				best, power = l, p
			}
		}
	}
	spread := variance(v)
	floor := 6 * noiseOf(v) * math.Sqrt(6/float64(len(v)))
	return best, power > floor*floor && power/2 > 0.1*spread && power > 1e-18
}

// hann weights v about its mean with a Hann window scaled to keep amplitudes.
func hann(v []float64) []float64 {
	m, out := mean(v), make([]float64, len(v))
	for i, x := range v {
		out[i] = (x - m) * (1 - math.Cos(2*math.Pi*(float64(i)+0.5)/float64(len(v))))
	}
	return out
}

// amplitude of windowed v at a frequency in cycles per sample (Goertzel).
func amplitude(v []float64, cycles float64) float64 {
	twoCos := 2 * math.Cos(2*math.Pi*cycles)
	var s1, s2 float64
	for _, x := range v {
		s1, s2 = x+twoCos*s1-s2, s1
	}
	return 2 / float64(len(v)) * math.Sqrt(max(0, s1*s1+s2*s2-twoCos*s1*s2))
}

// rippleHertz returns the ripple's frequency and, if it comes from the mains, the
// lines there; NaN where no frequency stands out.
func rippleHertz(volts []float64, interval, mains float64) (hertz float64, found lines) {
	candidates := []float64{mains}
	if mains == 0 {
		candidates = []float64{50, 60}
	}
	power := 0.0
	for _, nominal := range candidates {
		l, ok := mainsLines(volts, interval, nominal)
		if p := l.once*l.once + l.twice*l.twice; ok && p > power {
			found, power = l, p
		}
	}
	switch {
	case power == 0:
		return strongest(volts, interval), lines{}
	case found.once >= legOutFrom*found.twice:
		return found.hertz, found
	default:
		return 2 * found.hertz, found
	}
}

// strongest returns the frequency that holds a third of the variance or more, as
// the ripple of a switching converter does; NaN where there is none.
func strongest(volts []float64, interval float64) float64 {
	v := volts[:min(len(volts), mostSpectral)]
	if len(v) < 64 {
		return math.NaN()
	}
	spectrum := fourier.NewFFT(len(v)).Coefficients(nil, hann(v))
	all, peak := 0.0, 3
	power := func(i int) float64 { return real(spectrum[i] * cmplx.Conj(spectrum[i])) }
	for i := 3; i < len(spectrum)-2; i++ {
		all += power(i)
		if power(i) > power(peak) {
			peak = i
		}
	}
	near := power(peak-1) + power(peak) + power(peak+1)
	if !(near > all/3) || !(all > 1e-18*float64(len(v))) {
		return math.NaN()
	}
	// The peak of a Hann window's main lobe, from its two larger bins.
	a, b := math.Sqrt(power(peak-1)), math.Sqrt(power(peak+1))
	c := math.Sqrt(power(peak))
	shift := (2*b - c) / (c + b)
	if a > b {
		shift = -(2*a - c) / (c + a)
	}
	return (float64(peak) + shift) / (float64(len(v)) * interval)
}

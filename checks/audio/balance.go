package audio

import (
	"math"
	"math/cmplx"
)

// Balance is how two channels stand to each other. On a console that gives the same
// on both, they should be alike.
type Balance struct {
	// Decibels is 20 log10(first/second), of the tone where both have it.
	Decibels Measured
	// PhaseDegrees is how far the second channel's tone is behind the first's, from
	// -180 to 180.
	PhaseDegrees Measured
	// Correlation is from 1 (alike but for the level) over 0 (nothing in common)
	// to -1 (one of them upside down).
	Correlation Measured
	// Identical tells that both channels hold the very same samples, which no two
	// outputs do.
	Identical bool
}

func newBalance() Balance {
	return Balance{Decibels: notMeasured(), PhaseDegrees: notMeasured(), Correlation: notMeasured()}
}

// measureBalance compares the first two channels.
func (a *analysis) measureBalance() {
	if len(a.record.Channels) < 2 {
		return
	}
	x, y := a.record.Channels[0].Volts, a.record.Channels[1].Volts
	first, second := a.result.Channels[0], a.result.Channels[1]
	b := &a.result.Balance
	b.Identical = identical(x, y) && first.acSquare > 0
	b.Correlation = correlation(x, y, first, second)
	left, right := first.RMSVolts, second.RMSVolts
	if a.sameTone() {
		left, right = first.ToneVolts, second.ToneVolts
		b.PhaseDegrees = a.phase(first, second)
	}
	b.Decibels = left.over(right).Decibels(1)
}

// sameTone tells whether both channels carry the same tone.
func (a *analysis) sameTone() bool {
	first, second := a.result.Channels[0], a.result.Channels[1]
	return first.ToneHertz.OK() && second.ToneHertz.OK() &&
		math.Abs(first.ToneHertz.Value-second.ToneHertz.Value) < 2*first.Spectrum.BinHertz
}

func identical(x, y []float64) bool {
	for i := range x {
		if x[i] != y[i] {
			return false
		}
	}
	return true
}

// correlation is the product-moment coefficient of two channels; its uncertainty is
// that of independent samples, (1 - r²)/sqrt(n), a lower bound for audio.
func correlation(x, y []float64, first, second ChannelResult) Measured {
	if first.acSquare == 0 || second.acSquare == 0 {
		return notMeasured()
	}
	var sum float64
	for i := range x {
		sum += (x[i] - first.DCVolts.Value) * (y[i] - second.DCVolts.Value)
	}
	n := float64(len(x))
	r := sum / n / math.Sqrt(first.acSquare) / math.Sqrt(second.acSquare)
	r = math.Min(math.Max(r, -1), 1)
	return Measured{Value: r, U: (1 - r*r) / math.Sqrt(n)}
}

// phase compares the tone's phase in both channels; each is uncertain by noise over
// tone in one bin.
func (a *analysis) phase(first, second ChannelResult) Measured {
	hertz := first.ToneHertz.Value
	zx := phasor(a.record.Channels[0].Volts, first.DCVolts.Value, hertz, a.record.SampleIntervalSeconds)
	zy := phasor(a.record.Channels[1].Volts, second.DCVolts.Value, hertz, a.record.SampleIntervalSeconds)
	u := math.Hypot(first.ToneVolts.U/first.ToneVolts.Value, second.ToneVolts.U/second.ToneVolts.Value)
	return Measured{Value: cmplx.Phase(zx*cmplx.Conj(zy)) * 180 / math.Pi, U: u * 180 / math.Pi}
}

// phasor is the complex amplitude of a sine in v under a Hann window, which other
// lines do not disturb.
func phasor(v []float64, mean, hertz, dt float64) complex128 {
	turn, slow := cmplx.Rect(1, -2*math.Pi*hertz*dt), cmplx.Rect(1, 2*math.Pi/float64(len(v)))
	z, w, sum := complex(1, 0), complex(1, 0), complex(0, 0)
	for _, x := range v {
		weighted := (x - mean) * (hann[0] - hann[1]*real(w))
		sum += complex(weighted*real(z), weighted*imag(z))
		z, w = z*turn, w*slow
	}
	return sum * complex(2/(hann[0]*float64(len(v))), 0)
}

package audio

import "math"

// cosineWindow is a window w(k) = a0 - a1 cos x + a2 cos 2x - a3 cos 3x with
// x = 2 pi k/N, in its periodic form. It is applied to the spectrum, where each of
// its terms only adds two neighbours: exact, and without a table of N weights.
type cosineWindow [4]float64

var (
	// hann has the narrowest lines of the ones here.
	hann = cosineWindow{0.5, 0.5}
	// steep is Nuttall's window of four terms with continuous first derivative:
	// nothing of a line above -93 dB beyond its main lobe, falling by 18 dB an
	// octave, so that noise 120 dB below a tone can be seen.
	steep = cosineWindow{0.355768, 0.487396, 0.144232, 0.012604}
)

// meanSquare is the mean of w².
func (w cosineWindow) meanSquare() float64 {
	return w[0]*w[0] + (w[1]*w[1]+w[2]*w[2]+w[3]*w[3])/2
}

// noiseBandwidthBins is the equivalent noise bandwidth in bins, mean(w²)/mean(w)²:
// exactly 1.5 for Hann.
func (w cosineWindow) noiseBandwidthBins() float64 { return w.meanSquare() / (w[0] * w[0]) }

// spread is mean(w⁴)/mean(w²)²: how much more than white noise's own the power of
// a windowed record scatters.
func (w cosineWindow) spread() float64 {
	const n = 32 // w⁴ has terms up to cos 12x, whose mean over 32 points is exact
	var fourth float64
	for k := range n {
		x := 2 * math.Pi * float64(k) / n
		v := w[0] - w[1]*math.Cos(x) + w[2]*math.Cos(2*x) - w[3]*math.Cos(3*x)
		fourth += v * v * v * v / n
	}
	return fourth / (w.meanSquare() * w.meanSquare())
}

// apply returns what bin k of the record's spectrum becomes under the window; x are
// the bins from 0 up to half of n samples.
func (w cosineWindow) apply(x []complex128, n, k int) complex128 {
	sum := complex(w[0], 0) * x[k]
	for j := 1; j < len(w) && w[j] != 0; j++ {
		half := w[j] / 2
		if j%2 == 1 {
			half = -half
		}
		sum += complex(half, 0) * (mirrored(x, n, k-j) + mirrored(x, n, k+j))
	}
	return sum
}

// mirrored is bin k of a real record's spectrum, for k from -n/2 to n.
func mirrored(x []complex128, n, k int) complex128 {
	switch {
	case k < 0:
		k = -k
	case k >= len(x):
		k = n - k
	default:
		return x[k]
	}
	v := x[k]
	return complex(real(v), -imag(v))
}

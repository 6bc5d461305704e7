package audio

import (
	"math"
	"math/bits"
	"slices"

	"gonum.org/v1/gonum/dsp/fourier"
)

// Spectrum is where in frequency a channel's power is, DC taken out.
type Spectrum struct {
	// BinHertz is the distance of two bins; bin k is at k times it.
	BinHertz float64
	// Power is the mean square in each bin, in V²; over all bins it sums up to the
	// channel's. A sine fills some nine bins.
	Power []float64
	// Segments is how many parts of the record were averaged.
	Segments int
	// independent is how many of them count in full.
	independent float64
}

const (
	// longest is the longest part that is transformed at once: 10.9 s at 48 kHz.
	longest = 1 << 19
	// sparing is how far apart parts are at most, as a share of their length: the
	// window leaves little of a part's ends.
	sparing = 0.85
	// lobe is how many bins on either side of a line have its power; skirt how many
	// a line takes from the noise, beyond which it is 120 dB down.
	lobe, skirt = 5, 40
	// reach is how many bins on either side the noise about a bin is taken from.
	reach = 48
)

// newSpectrum transforms samples, dt seconds apart, their mean taken out, in parts
// of a power of two samples that are spread evenly from the first to the last.
func newSpectrum(samples []float64, mean, dt float64) Spectrum {
	n := min(1<<(bits.Len(uint(len(samples)))-1), longest)
	s := Spectrum{BinHertz: 1 / (float64(n) * dt), Power: make([]float64, n/2+1)}
	part, fft := make([]float64, n), fourier.NewFFT(n)
	x := make([]complex128, n/2+1)
	rest := float64(len(samples) - n)
	count := 1 + int(math.Ceil(rest/(sparing*float64(n))))
	for i := range count {
		from := 0
		if count > 1 {
			from = i * (len(samples) - n) / (count - 1)
		}
		for k, v := range samples[from : from+n] {
			part[k] = v - mean
		}
		fft.Coefficients(x, part)
		s.add(x, n)
	}
	for k := range s.Power {
		s.Power[k] /= float64(count)
	}
	s.independent = math.Min(float64(count), 1+rest/(0.5*float64(n)))
	return s
}

// add adds the power of one part's transform.
func (s *Spectrum) add(x []complex128, n int) {
	// What a part of a cycle leaves of a mean under the window is no signal, but
	// would lie over the lowest bins.
	x[0] -= steep.apply(x, n, 0) / complex(steep[0], 0)
	scale := 2 / (float64(n) * float64(n) * steep.meanSquare())
	edge := len(steep)
	for k := range s.Power {
		var w complex128
		if k < edge || k >= len(x)-edge {
			w = steep.apply(x, n, k)
		} else {
			// The same as apply, written out for the bins that have all neighbours.
			w = complex(steep[0], 0)*x[k] - complex(steep[1]/2, 0)*(x[k-1]+x[k+1]) +
				complex(steep[2]/2, 0)*(x[k-2]+x[k+2]) - complex(steep[3]/2, 0)*(x[k-3]+x[k+3])
		}
		s.Power[k] += scale * (real(w)*real(w) + imag(w)*imag(w))
	}
	// The last bin has no mirror image that it stands for as well.
	last := len(s.Power) - 1
	s.Power[last] -= scale / 2 * squared(steep.apply(x, n, last))
	s.Segments++
}

func squared(z complex128) float64 { return real(z)*real(z) + imag(z)*imag(z) }

// bin is the bin nearest to a frequency, within the spectrum.
func (s Spectrum) bin(hertz float64) int {
	return int(math.Min(math.Max(math.Round(hertz/s.BinHertz), 0), float64(len(s.Power)-1)))
}

// floorAt is the power of noise in a bin about bin k, from the median of the bins
// beside it: lines do not count. The median of a mean of m squares lies below it
// by (1 - 1/(9m))³ (Wilson and Hilferty's approximation; value from memory).
func (s Spectrum) floorAt(k int) float64 {
	var beside [2 * reach]float64
	n := 0
	for d := lobe + 3; d < lobe+3+reach; d++ {
		for _, at := range [2]int{k - d, k + d} {
			if at >= lobe && at < len(s.Power) {
				beside[n] = s.Power[at]
				n++
			}
		}
	}
	if n == 0 {
		return 0
	}
	slices.Sort(beside[:n])
	below := 1 - 1/(9*s.independent)
	return beside[n/2] / (below * below * below)
}

package pulse

import (
	"fmt"
	"math"
)

// DefaultBins is the number of histogram bins where none is given.
const DefaultBins = 100

// Levels are the levels of the two states of a waveform.
type Levels struct {
	Low, High float64
	// BinWidth is the width of one histogram bin, so that half of it is the most
	// that the choice of bins can move a level; 0 for levels that were given.
	BinWidth float64
}

// Amplitude is High - Low (IEEE 181, 5.3.1).
func (l Levels) Amplitude() float64 { return l.High - l.Low }

// Reference returns the level that lies percent of the amplitude above the low
// state: 10, 50 and 90 are the usual ones (IEEE 181, 5.3.3).
func (l Levels) Reference(percent float64) float64 {
	return l.Low + percent/100*l.Amplitude()
}

// GivenLevels returns the levels low and high where they are known beforehand.
// It fails with ErrLevels unless low < high, and with ErrNotFinite.
func GivenLevels(low, high float64) (Levels, error) {
	if !finite(low) || !finite(high) {
		return Levels{}, fmt.Errorf("levels %g and %g: %w", low, high, ErrNotFinite)
	}
	if low >= high {
		return Levels{}, fmt.Errorf("%w: %g and %g", ErrLevels, low, high)
	}
	return Levels{Low: low, High: high}, nil
}

// Estimate says which value stands for a state once its fullest bin is found.
type Estimate int

// The estimates.
const (
	// BinCentre takes the middle of the fullest bin.
	BinCentre Estimate = iota
	// BinMean takes the mean of the samples in the fullest bin and its two
	// neighbours: finer than a bin on noisy or slightly tilted data.
	BinMean
)

// HistogramOptions say how the histogram is made. The zero value is the usual one.
type HistogramOptions struct {
	// Bins is the number of bins; 0 means DefaultBins.
	Bins int
	// Low and High bound the histogram; both 0 means the smallest and largest
	// sample. Samples outside count into the outermost bins.
	Low, High float64
	// Step is one code of the converter, 0 where unknown. Bins are then whole
	// codes wide and centred on codes: narrower bins alias with the codes.
	Step float64
	// Estimate says which value stands for a state.
	Estimate Estimate
}

// HistogramLevels finds the state levels of v by histogram mode (IEEE 181, 5.2):
// the bins from the first to the last one that is not empty are split into a
// lower and an upper half, and the fullest bin of each half is a state. Between
// equally full bins the lowest counts; of an odd number of bins the middle one
// belongs to the lower half. Both are choices that the standard leaves open.
//
// It fails with ErrNoTransition if all samples fall into one bin, ErrTooShort for
// fewer than 2 samples and ErrNotFinite.
func HistogramLevels(v []float64, options HistogramOptions) (Levels, error) {
	if len(v) < 2 {
		return Levels{}, fmt.Errorf("state levels: %w: %d, need at least 2", ErrTooShort, len(v))
	}
	if err := checkFinite(v); err != nil {
		return Levels{}, fmt.Errorf("state levels: %w", err)
	}
	h, ok := newHistogram(v, options)
	if !ok {
		return Levels{}, fmt.Errorf("state levels: %w: every sample is %g", ErrNoTransition, v[0])
	}
	h.fill(v)
	first, last := h.occupied()
	if first == last {
		return Levels{}, fmt.Errorf("state levels: %w: every sample is within one bin of %g", ErrNoTransition, h.width)
	}
	middle := first + (last-first)/2
	low, high := h.fullest(first, middle), h.fullest(middle+1, last)
	return Levels{Low: h.level(low, options.Estimate), High: h.level(high, options.Estimate), BinWidth: h.width}, nil
}

// histogram has equal bins from low upwards; sums holds the sum of each bin's
// samples so that a mean can be had.
type histogram struct {
	low, width float64
	counts     []int
	sums       []float64
}

// newHistogram lays out the bins; ok is false if there is no range to divide.
func newHistogram(v []float64, o HistogramOptions) (h histogram, ok bool) {
	low, high := o.Low, o.High
	if low == 0 && high == 0 {
		low, high = extremes(v)
	}
	bins := o.Bins
	if bins <= 0 {
		bins = DefaultBins
	}
	if !(high > low) || !finite(high-low) {
		return histogram{}, false
	}
	width := (high - low) / float64(bins)
	if o.Step > 0 {
		width = o.Step * math.Max(1, math.Ceil(width/o.Step))
		low -= o.Step / 2
		bins = int(math.Ceil((high+o.Step/2-low)/width - 1e-9))
	}
	if width == 0 {
		return histogram{}, false
	}
	return histogram{low: low, width: width, counts: make([]int, bins), sums: make([]float64, bins)}, true
}

func (h histogram) fill(v []float64) {
	last := float64(len(h.counts) - 1)
	for _, x := range v {
		bin := int(math.Min(math.Max((x-h.low)/h.width, 0), last))
		h.counts[bin]++
		h.sums[bin] += x
	}
}

func (h histogram) occupied() (first, last int) {
	first, last = -1, -1
	for i, n := range h.counts {
		if n == 0 {
			continue
		}
		if first < 0 {
			first = i
		}
		last = i
	}
	return first, last
}

// fullest returns the fullest bin from first to last, the lowest of equals.
func (h histogram) fullest(first, last int) int {
	best := first
	for i := first + 1; i <= last; i++ {
		if h.counts[i] > h.counts[best] {
			best = i
		}
	}
	return best
}

func (h histogram) level(bin int, e Estimate) float64 {
	if e != BinMean {
		return h.low + (float64(bin)+0.5)*h.width
	}
	var n int
	var sum float64
	for i := max(0, bin-1); i <= min(len(h.counts)-1, bin+1); i++ {
		n += h.counts[i]
		sum += h.sums[i]
	}
	return sum / float64(n)
}

func extremes(v []float64) (low, high float64) {
	low, high = v[0], v[0]
	for _, x := range v[1:] {
		low, high = math.Min(low, x), math.Max(high, x)
	}
	return low, high
}

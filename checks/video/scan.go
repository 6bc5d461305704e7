package video

import (
	"fmt"
	"math"
)

// scan is what one pass over the samples gives: averages of blocks of about a
// quarter microsecond, in which most of a subcarrier is gone, and the extremes.
type scan struct {
	perBlock int
	dt       float64   // seconds between blocks
	first    float64   // the middle of the first block, in seconds
	means    []float64 // of the blocks, in volts
	low      float64
	high     float64
}

// blockSeconds is the length of a block: about one cycle of either subcarrier.
const blockSeconds = 0.25 * microsecond

// newScan reads every sample once. It fails, naming the sample, if one is not a
// finite number.
func newScan(r Record) (scan, error) {
	n := max(1, int(math.Round(blockSeconds/r.SampleIntervalSeconds)))
	s := scan{
		perBlock: n, dt: float64(n) * r.SampleIntervalSeconds,
		first: float64(n-1) / 2 * r.SampleIntervalSeconds,
		means: make([]float64, len(r.Volts)/n), low: math.Inf(1), high: math.Inf(-1),
	}
	share := 1 / float64(n)
	low, high := s.low, s.high
	for i := range s.means {
		var sum float64
		for _, x := range r.Volts[i*n : (i+1)*n] {
			sum += x
			if x < low {
				low = x
			}
			if x > high {
				high = x
			}
		}
		// A sum that is NaN or infinite comes from such a sample.
		if sum-sum != 0 {
			return scan{}, notFinite(r.Volts)
		}
		s.means[i] = sum * share
	}
	for _, x := range r.Volts[len(s.means)*n:] {
		if x-x != 0 {
			return scan{}, notFinite(r.Volts)
		}
		low, high = math.Min(low, x), math.Max(high, x)
	}
	s.low, s.high = low, high
	return s, nil
}

func notFinite(v []float64) error {
	for i, x := range v {
		if math.IsNaN(x) || math.IsInf(x, 0) {
			return fmt.Errorf("%w: sample %d is %g", ErrRecord, i+1, x)
		}
	}
	return fmt.Errorf("%w: samples are too large to add up", ErrRecord)
}

// index returns the block that holds the instant t, which may be outside.
func (s scan) index(t float64) int { return int(math.Round((t - s.first) / s.dt)) }

// at returns the middle of block i in seconds.
func (s scan) at(i float64) float64 { return s.first + i*s.dt }

package drift

import (
	"math"
	"testing"
)

// TestStreamAgainstCertifiedValues: source NIST Statistical Reference Datasets,
// univariate summary statistics, all eight sets. The tolerances in the file follow
// what float64 can hold of each set; nine digits of the mean and eight of the
// standard deviation are asked of every one.
func TestStreamAgainstCertifiedValues(t *testing.T) {
	type figures struct{ Mean, SD, Lag1 float64 }
	var file struct {
		Datasets []struct {
			Name, CSV string
			N         int
			Expected  figures
			RelTol    figures `json:"rel_tol"`
		}
	}
	readJSON(t, "strd_univariate.json", &file)
	if len(file.Datasets) != 8 {
		t.Fatalf("%d sets, want 8", len(file.Datasets))
	}
	for _, set := range file.Datasets {
		t.Run(set.Name, func(t *testing.T) {
			var s Stream
			for _, y := range columns(t, set.CSV)["y"] {
				s.Add(y)
			}
			if s.N() != set.N {
				t.Fatalf("n = %d, want %d", s.N(), set.N)
			}
			near(t, "mean", s.Mean(), set.Expected.Mean, min(1e-9, set.RelTol.Mean))
			near(t, "sd", s.SD(), set.Expected.SD, min(1e-8, set.RelTol.SD))
			near(t, "lag-1", s.Lag1(), set.Expected.Lag1, set.RelTol.Lag1)
		})
	}
}

func TestStreamBelowWhatItNeeds(t *testing.T) {
	var s Stream
	if !math.IsNaN(s.Mean()) || !math.IsNaN(s.SD()) || !math.IsNaN(s.Lag1()) || !math.IsNaN(s.StepVariance()) {
		t.Error("an empty stream must know nothing")
	}
	s.Add(5)
	if s.Mean() != 5 || !math.IsNaN(s.SD()) || !math.IsNaN(s.Lag1()) {
		t.Errorf("one reading: mean %v sd %v lag-1 %v", s.Mean(), s.SD(), s.Lag1())
	}
	s.Add(5)
	if s.SD() != 0 || !math.IsNaN(s.Lag1()) {
		t.Errorf("two equal readings: sd %v, want 0; lag-1 %v, want NaN", s.SD(), s.Lag1())
	}
}

// A first reading far from all others is the worst case for sums about it.
func TestStreamAfterAWildFirstReading(t *testing.T) {
	var s, tail Stream
	s.Add(1e12)
	for i := range 100000 {
		x := math.Sin(float64(i))
		s.Add(x)
		tail.Add(x)
	}
	n := 100001.0
	gap := 1e12 - tail.Mean()
	squares := tail.deviations() + gap*gap*(n-1)/n
	near(t, "sd", s.SD(), math.Sqrt(squares/(n-1)), 1e-12)
	near(t, "mean", s.Mean(), tail.Mean()+gap/n, 1e-12)
}

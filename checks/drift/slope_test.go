package drift

import (
	"math"
	"math/rand/v2"
	"testing"
)

// TestSlopeIntervalCoversTheTruth: an interval of 95 % must hold the true slope in
// about 95 % of records, however much readings resemble their neighbours. Readings
// taken as independent would hold it in 60 % at 0.7 and in 23 % at 0.95 (2000 records
// each, seed fixed). Two thousand records tell 95 % to half a percent.
func TestSlopeIntervalCoversTheTruth(t *testing.T) {
	tests := []struct {
		noise noise
		least float64
	}{
		{noise{"white", 0, 0}, 0.94},
		{noise{"resembling 0.7", 0.7, 0}, 0.94},
		{noise{"resembling 0.95", 0.95, 0}, 0.93},
		{noise{"slow wander under white noise", 0.95, 0.5}, 0.92},
	}
	for _, test := range tests {
		held, naive := 0, 0
		const many, n, truth = 2000, 500, 0.01
		times, v := make([]float64, n), make([]float64, n)
		for record := range many {
			test.noise.readings(v, rand.New(rand.NewPCG(uint64(record), 7)))
			for i := range v {
				times[i] = float64(i)
				v[i] += truth * times[i]
			}
			s, err := SlopeOf(times, v, 0.95)
			if err != nil {
				t.Fatal(err)
			}
			if s.Low <= truth && truth <= s.High {
				held++
			}
			if low, high := s.line.SlopeInterval(0.95); low <= truth && truth <= high {
				naive++
			}
		}
		share := float64(held) / many
		t.Logf("%s: %.1f %% hold the truth; as if independent %.1f %%", test.noise.name, 100*share, 100*float64(naive)/many)
		if share < test.least || share > 0.995 {
			t.Errorf("%s: %.1f %% of intervals hold the true slope, want %.0f to 99.5 %%", test.noise.name, 100*share, 100*test.least)
		}
	}
}

func TestSlopeOfExactAndOfFlatRecords(t *testing.T) {
	x := []float64{0, 1, 2, 3, 4}
	rising, err := SlopeOf(x, []float64{1, 3, 5, 7, 9}, 0.95)
	if err != nil || rising.PerSecond != 2 || rising.Low != 2 || rising.High != 2 || !rising.Trend() {
		t.Errorf("exact line: %+v, %v", rising, err)
	}
	flat, err := SlopeOf(x, []float64{4, 4, 4, 4, 4}, 0.95)
	if err != nil || flat.PerSecond != 0 || flat.Trend() {
		t.Errorf("flat: %+v, %v", flat, err)
	}
	if _, err := SlopeOf(x[:2], x[:2], 0.95); err == nil {
		t.Error("two points: no error")
	}
}

// Where neighbours tell all, the interval must be endless rather than narrow.
func TestSlopeOfASlowWaveIsNotKnown(t *testing.T) {
	var times, v []float64
	for i := range 60 {
		times = append(times, float64(i))
		v = append(v, math.Sin(float64(i)/10))
	}
	s, err := SlopeOf(times, v, 0.95)
	if err != nil {
		t.Fatal(err)
	}
	if s.Trend() || !math.IsInf(s.Low, -1) || !math.IsInf(s.High, 1) {
		t.Errorf("slope %v in %v to %v, want no bounds", s.PerSecond, s.Low, s.High)
	}
}

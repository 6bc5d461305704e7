package drift

import (
	"math"
	"math/rand/v2"
	"testing"
)

func pointer(x float64) *float64 { return &x }

func ramp(n int, perSecond, sd float64, seed uint64) (t, v []float64) {
	random := rand.New(rand.NewPCG(seed, 3))
	for i := range n {
		t = append(t, float64(i))
		v = append(v, perSecond*float64(i)+sd*random.NormFloat64())
	}
	return t, v
}

func TestForecastOutlooks(t *testing.T) {
	exact := func(perSecond float64) Slope {
		times, v := ramp(11, perSecond, 0, 1) // ends at 10 s
		s, err := SlopeOf(times, v, 0.95)
		if err != nil {
			t.Fatal(err)
		}
		return s
	}
	tests := []struct {
		name      string
		slope     Slope
		low, high *float64
		want      Outlook
		seconds   float64
	}{
		{"rising to 25", exact(2), nil, pointer(25), Ahead, 2.5},
		{"falling to -25", exact(-2), pointer(-25), pointer(25), Ahead, 2.5},
		{"on the limit now", exact(2), nil, pointer(20), Passed, 0},
		{"beyond the limit", exact(2), nil, pointer(5), Passed, 0},
		{"rising, low limit only", exact(2), pointer(-5), nil, NoLimit, math.NaN()},
		{"flat", exact(0), pointer(-5), pointer(5), NoTrend, math.NaN()},
		{"no slope", Slope{}, pointer(-5), pointer(5), NotKnown, math.NaN()},
	}
	for _, test := range tests {
		f := ForecastLimit(test.slope, 10, test.low, test.high)
		if f.Outlook != test.want {
			t.Errorf("%s: %v, want %v", test.name, f.Outlook, test.want)
		}
		if known := !math.IsNaN(test.seconds); known {
			within(t, test.name, f.Seconds, test.seconds, 1e-12)
			within(t, test.name+", low", f.Low, test.seconds, 1e-9)
			within(t, test.name+", high", f.High, test.seconds, 1e-9)
		} else if !math.IsNaN(f.Seconds) || !math.IsNaN(f.Low) || !math.IsNaN(f.High) {
			t.Errorf("%s: %+v, want no figures", test.name, f)
		}
	}
}

// TestForecastIntervalHoldsTheTruth: the limit is met 400 s after the record; 95 % of
// intervals must hold that (1000 records, seed fixed).
func TestForecastIntervalHoldsTheTruth(t *testing.T) {
	held, ahead := 0, 0
	const many = 1000
	for record := range many {
		times, v := ramp(201, 0.01, 1, uint64(record)) // level 2 at the end, 6 at the limit
		s, err := SlopeOf(times, v, 0.95)
		if err != nil {
			t.Fatal(err)
		}
		f := ForecastLimit(s, 200, nil, pointer(6))
		if f.Outlook != Ahead {
			continue
		}
		ahead++
		if f.Low > f.Seconds || f.Seconds > f.High {
			t.Fatalf("record %d: %v not in %v to %v", record, f.Seconds, f.Low, f.High)
		}
		if f.Low <= 400 && 400 <= f.High {
			held++
		}
	}
	share := float64(held) / float64(ahead)
	t.Logf("%d of %d records show the trend, %.1f %% of their intervals hold the truth", ahead, many, 100*share)
	if ahead < many*9/10 || share < 0.93 {
		t.Errorf("%d records show the trend, %.1f %% of the intervals hold the truth", ahead, 100*share)
	}
}

// A record without a trend says so in about 95 %, and then has no hours.
func TestNoTrendIsSaid(t *testing.T) {
	said := 0
	const many = 1000
	for record := range many {
		times, v := ramp(200, 0, 1, uint64(record))
		s, err := SlopeOf(times, v, 0.95)
		if err != nil {
			t.Fatal(err)
		}
		if ForecastLimit(s, 200, pointer(-6), pointer(6)).Outlook == NoTrend {
			said++
		}
	}
	if said < 930 || said > 985 {
		t.Errorf("no trend in %d of %d records, want about 950", said, many)
	}
}

package drift

import (
	"math"
	"testing"
	"time"
)

var january = time.Date(2026, 1, 1, 0, 0, 0, 0, time.UTC)

// monthly are values a month apart.
func monthly(values ...float64) (at []time.Time, v []float64) {
	for i := range values {
		at = append(at, january.Add(time.Duration(i)*Month))
	}
	return at, values
}

// The outlooks over months, with figures that anybody can work out (derived).
func TestMonthsTrend(t *testing.T) {
	limit := func(x float64) *float64 { return &x }
	tests := []struct {
		name      string
		values    []float64
		low, high *float64
		want      Outlook
		months    float64 // from January to the limit; NaN for none
	}{
		{"nothing", nil, limit(0), nil, NotKnown, math.NaN()},
		{"one less than enough", []float64{5, 4, 3}, limit(0), nil, NotKnown, math.NaN()},
		{"a straight fall", []float64{5, 4.5, 4, 3.5}, limit(1), nil, Ahead, 8},
		{"a straight rise", []float64{5, 6, 7, 8, 9, 10}, limit(1), limit(20), Ahead, 15},
		{"a rise without a limit above", []float64{5, 6, 7, 8}, limit(1), nil, NoLimit, math.NaN()},
		{"at one level", []float64{5, 5, 5, 5, 5}, limit(1), limit(9), NoTrend, math.NaN()},
		{"to and fro", []float64{5, 6, 5, 6, 5, 6}, limit(1), limit(9), NoTrend, math.NaN()},
		{"beyond it already", []float64{5, 4, 3, 2, 1}, limit(2), nil, Passed, 4},
		// The last one alone makes the line: the ranks (S = 3, P near 0.7) do not bear it out.
		{"one wild figure", []float64{5, 4.9, 5, 5.1, 4.8, 5, 4.9, 9}, nil, limit(20), NoTrend, math.NaN()},
	}
	for _, tt := range tests {
		at, v := monthly(tt.values...)
		got := MonthsTrendOf(at, v, tt.low, tt.high, DefaultConfidence)
		months := math.NaN()
		if !got.ReachedAt.IsZero() {
			months = got.ReachedAt.Sub(january).Hours() / Month.Hours()
		}
		if got.Outlook != tt.want || math.IsNaN(months) != math.IsNaN(tt.months) || math.Abs(months-tt.months) > 1e-6 || got.N != len(v) {
			t.Errorf("%s: %v in %v months, want %v in %v", tt.name, got.Outlook, months, tt.want, tt.months)
		}
	}
}

// Figures that are all of one day have no trend to tell.
func TestMonthsTrendOfOneDay(t *testing.T) {
	got := MonthsTrendOf([]time.Time{january, january, january, january}, []float64{1, 2, 3, 4}, nil, nil, DefaultConfidence)
	if got.Outlook != NotKnown || !math.IsNaN(got.PerMonth) || !math.IsNaN(got.MannKendallP) {
		t.Errorf("%+v", got)
	}
}

// A limit that a slow trend meets in thousands of years overflows no time.
func TestMonthsTrendIsBounded(t *testing.T) {
	at, v := monthly(5, 4.9999999, 4.9999998, 4.9999997)
	zero := 0.0
	if got := MonthsTrendOf(at, v, &zero, nil, DefaultConfidence); got.Outlook != Ahead || got.ReachedAt.Year() < 2200 || got.ReachedAt.Year() > 2300 {
		t.Errorf("%v at %v", got.Outlook, got.ReachedAt)
	}
}

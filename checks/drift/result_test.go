package drift

import (
	"math/rand/v2"
	"testing"
)

// TestRecordOfThePrecipitationSeries: the whole record through Analyse gives the
// figures of the single tests; US Department of Commerce and Army Corps of Engineers
// series, years taken for seconds.
func TestRecordOfThePrecipitationSeries(t *testing.T) {
	want := trendExample(t, "precip_great_lakes")
	data := columns(t, want.CSV)
	for name := range data {
		if name == "year" {
			continue
		}
		r, err := Analyse(data["year"], data[name], Options{})
		if err != nil {
			t.Fatal(err)
		}
		near(t, "p", r.MannKendallP, want.Derived["p_continuity"], 1e-6)
		near(t, "median slope", r.TheilSenPerHour, 3600*want.Derived["sen_slope"], 1e-6)
		line, err := FitLine(data["year"], data[name])
		if err != nil {
			t.Fatal(err)
		}
		near(t, "slope", r.SlopePerHour, 3600*line.Slope, 1e-12)
		if r.SlopeLow <= 0 || r.SlopeLow >= r.SlopePerHour || r.SlopeHigh <= r.SlopePerHour {
			t.Errorf("slope %v in %v to %v", r.SlopePerHour, r.SlopeLow, r.SlopeHigh)
		}
	}
}

// TestTrendOfNoTrend: p is below 5 % in about 5 % of records without a trend, also
// where neighbours resemble each other (500 records each, seed fixed), which
// misleads the plain test.
func TestTrendOfNoTrend(t *testing.T) {
	for _, n := range []noise{{"white", 0, 0}, {"resembling 0.7", 0.7, 0}, {"resembling 0.9", 0.9, 0}} {
		found, plain := 0, 0
		times, v := make([]float64, 100), make([]float64, 100)
		for i := range times {
			times[i] = float64(i)
		}
		for record := range 500 {
			n.readings(v, rand.New(rand.NewPCG(uint64(record), 12)))
			r, err := Analyse(times, v, Options{})
			if err != nil {
				t.Fatal(err)
			}
			if r.MannKendallP < 0.05 {
				found++
			}
			if MannKendallOf(v).P < 0.05 {
				plain++
			}
		}
		t.Logf("%s: %.1f %% below p = 5 %%, the plain test %.1f %%", n.name, float64(found)/5, float64(plain)/5)
		if found > 38 {
			t.Errorf("%s: a trend in %d of 500 records without one", n.name, found)
		}
	}
}

package capability

import (
	"encoding/csv"
	"math"
	"os"
	"strconv"
	"testing"

	"gonum.org/v1/gonum/stat/distuv"
)

func near(t *testing.T, what string, got, want, tolerance float64) {
	t.Helper()
	if !(math.Abs(got-want) <= tolerance) {
		t.Errorf("%s: %.9g, want %.9g ± %.2g", what, got, want, tolerance)
	}
}

// TestQuantiles holds the library's quantiles against tables.
func TestQuantiles(t *testing.T) {
	file, err := os.Open("testdata/stat_constants.csv")
	if err != nil {
		t.Fatal(err)
	}
	defer file.Close()
	rows, err := csv.NewReader(file).ReadAll()
	if err != nil {
		t.Fatal(err)
	}
	held := 0
	for _, row := range rows[1:] {
		p, _ := strconv.ParseFloat(row[1], 64)
		nu, _ := strconv.ParseFloat(row[2], 64)
		want, err := strconv.ParseFloat(row[3], 64)
		if err != nil {
			t.Fatal(err)
		}
		var got float64
		switch row[0] {
		case "normal_quantile":
			got = distuv.UnitNormal.Quantile(p)
		case "t_quantile":
			got = distuv.StudentsT{Mu: 0, Sigma: 1, Nu: nu}.Quantile(p)
		case "chi2_quantile":
			got = distuv.ChiSquared{K: nu}.Quantile(p)
		default:
			continue
		}
		held++
		near(t, row[0]+" "+row[1]+" "+row[2], got, want, 1e-8*math.Max(1, want))
	}
	if held != 70 {
		t.Errorf("%d quantiles were held against the table", held)
	}
}

func TestYield(t *testing.T) {
	nan := math.NaN()
	for _, row := range []struct {
		passed, units    int
		confidence       float64
		share, low, high float64
		tolerance        float64
		source           string
	}{
		{92, 100, 0.95, 0.92, 0.8500, 0.9589, 5e-5, "score interval, computed with another library"},
		{54, 61, 0.95, 0.885, 0.782, 0.943, 5e-4, "score interval, computed by hand"},
		{81, 263, 0.95, 0.3080, 0.2553, 0.3662, 5e-5, "Newcombe 1998, Statistics in Medicine 17, table I, method 3 (value from memory)"},
		{15, 148, 0.95, 0.1014, 0.0624, 0.1605, 5e-5, "the same"},
		{0, 20, 0.95, 0, 0, 0.1611, 5e-5, "the same"},
		{1, 29, 0.95, 0.0345, 0.0061, 0.1718, 5e-5, "the same"},
		{20, 20, 0.95, 1, 0.8389, 1, 5e-5, "the same, mirrored"},
		{1, 1, 0.95, 1, 0.2065, 1, 5e-5, "1 / (1 + z²), closed form"},
		{0, 0, 0.95, nan, nan, nan, 0, "no units"},
		{3, 2, 0.95, nan, nan, nan, 0, "more passed than there are"},
		{-1, 2, 0.95, nan, nan, nan, 0, "no count"},
		{1, 2, 1, nan, nan, nan, 0, "no confidence level"},
		{1, 2, nan, nan, nan, nan, 0, "no confidence level"},
	} {
		share, within := Yield(row.passed, row.units, row.confidence)
		if math.IsNaN(row.share) {
			if !math.IsNaN(share) || !math.IsNaN(within.Low) || !math.IsNaN(within.High) {
				t.Errorf("%s: %v %v", row.source, share, within)
			}
			continue
		}
		near(t, row.source, share, row.share, math.Max(row.tolerance, 5e-5))
		near(t, row.source+", low", within.Low, row.low, row.tolerance)
		near(t, row.source+", high", within.High, row.high, row.tolerance)
		if within.Low < 0 || within.High > 1 || within.Low > share || within.High < share {
			t.Errorf("%s: %v is not about %v", row.source, within, share)
		}
	}
}

func TestRolledYield(t *testing.T) {
	near(t, "common practice, no source", RolledYield(0.95, 0.98, 0.99), 0.92169, 5e-6)
	near(t, "no steps", RolledYield(), 1, 0)
	if !math.IsNaN(RolledYield(0.9, math.NaN())) {
		t.Error("a yield that is not known made one that is")
	}
}

// figuresLike are n figures of exactly a mean and a standard deviation.
func figuresLike(n int, mean, sd float64) []float64 {
	figures := make([]float64, n)
	side := sd * math.Sqrt(float64(n-1)/float64(n-n%2))
	for i := range n - n%2 {
		figures[i] = mean + side*float64(1-2*(i%2))
	}
	if n%2 == 1 {
		figures[n-1] = mean
	}
	return figures
}

func TestIndex(t *testing.T) {
	inf, nan := math.Inf(1), math.NaN()
	for _, row := range []struct {
		name, source string
		n            int
		mean, sd     float64
		low, high    float64
		cp, cpk      float64
		tolerance    float64
	}{
		{"worked example", "NIST/SEMATECH e-Handbook, 6.1.6", 50, 16, 2, 8, 20, 1, 0.6667, 5e-5},
		{"5 V rail", "computed by hand", 30, 5.02, 0.04, 4.75, 5.25, 2.0833, 1.9167, 5e-5},
		{"upper limit only", "Cpu of the same example", 50, 16, 2, -inf, 20, nan, 0.6667, 5e-5},
		{"lower limit only", "Cpl of the same example", 50, 16, 2, 8, inf, nan, 1.3333, 5e-5},
		{"mean outside", "(20-21)/6", 20, 21, 2, 8, 20, 1, -0.1667, 5e-5},
		{"fewest", "the same example", FewestUnits, 16, 2, 8, 20, 1, 0.6667, 5e-5},
		{"one too few", "no index", FewestUnits - 1, 16, 2, 8, 20, nan, nan, 0},
		{"all alike", "no spread", 50, 16, 0, 8, 20, nan, nan, 0},
		{"no limit", "nothing to stand to", 50, 16, 2, -inf, inf, nan, nan, 0},
	} {
		x := Index(figuresLike(row.n, row.mean, row.sd), row.low, row.high, 0.95)
		near(t, row.name+": mean", x.Mean, row.mean, 1e-9)
		near(t, row.name+": sd", x.SD, row.sd, 1e-9)
		for _, one := range []struct {
			what      string
			got, want float64
			in        Interval
		}{{"Cp", x.Cp, row.cp, x.CpInterval}, {"Cpk", x.Cpk, row.cpk, x.CpkInterval}} {
			if math.IsNaN(one.want) {
				if !math.IsNaN(one.got) || !math.IsNaN(one.in.Low) {
					t.Errorf("%s: %s %v %v, want none", row.name, one.what, one.got, one.in)
				}
				continue
			}
			near(t, row.name+": "+one.what+", "+row.source, one.got, one.want, row.tolerance)
			if !(one.in.Low < one.got && one.got < one.in.High) {
				t.Errorf("%s: %s %v is not within %v", row.name, one.what, one.got, one.in)
			}
		}
	}
}

// TestIndexIntervals: the formulas of NIST/SEMATECH e-Handbook 6.1.6 for n 50, the
// chi-squared quantiles 31.555 and 70.222 with 49 degrees of freedom from its table
// 1.3.6.7.4 (values from memory).
func TestIndexIntervals(t *testing.T) {
	x := Index(figuresLike(50, 16, 2), 8, 20, 0.95)
	near(t, "Cp low", x.CpInterval.Low, math.Sqrt(31.555/49), 1e-4)
	near(t, "Cp high", x.CpInterval.High, math.Sqrt(70.222/49), 1e-4)
	half := 1.959964 * math.Sqrt(1.0/450+4.0/9/98)
	near(t, "Cpk low", x.CpkInterval.Low, 2.0/3-half, 1e-6)
	near(t, "Cpk high", x.CpkInterval.High, 2.0/3+half, 1e-6)
}

func TestIndexOfFewAndOdd(t *testing.T) {
	none := Index(nil, 1, 2, 0.95)
	if none.N != 0 || !math.IsNaN(none.Mean) || !math.IsNaN(none.Cpk) {
		t.Errorf("no figures: %+v", none)
	}
	one := Index([]float64{5, math.NaN(), math.Inf(1)}, 1, 9, 0.95)
	if one.N != 1 || one.Mean != 5 || one.Low != 5 || one.High != 5 || !math.IsNaN(one.SD) {
		t.Errorf("one figure: %+v", one)
	}
	if x := Index(figuresLike(50, 16, 2), 8, 20, 2); !math.IsNaN(x.Cpk) {
		t.Errorf("no confidence level: %+v", x)
	}
}

func TestToleranceFactors(t *testing.T) {
	near(t, "two-sided, NIST/SEMATECH e-Handbook 7.2.6.3 (value from memory)", ToleranceFactor(43, 0.90, 0.99), 2.217, 1e-3)
	near(t, "one-sided, exact, the same section (value from memory)", OneSidedFactor(43, 0.90, 0.99), 1.8740, 1e-4)
	for _, k := range []float64{ToleranceFactor(1, 0.9, 0.9), ToleranceFactor(9, 1, 0.9), OneSidedFactor(1, 0.9, 0.9), OneSidedFactor(9, 0.9, 0)} {
		if !math.IsNaN(k) {
			t.Errorf("a factor of %v", k)
		}
	}
	if few, many := OneSidedFactor(5, 0.99, 0.95), OneSidedFactor(500, 0.99, 0.95); !(few > many) || !(many > distuv.UnitNormal.Quantile(0.99)) {
		t.Errorf("factors %v, %v", few, many)
	}
}

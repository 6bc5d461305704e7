package parts

import (
	"encoding/csv"
	"math"
	"os"
	"strconv"
	"testing"
)

// publishedSeries reads the table of IEC 60063 in testdata.
func publishedSeries(t *testing.T) map[string][]float64 {
	t.Helper()
	file, err := os.Open("testdata/iec60063.csv")
	if err != nil {
		t.Fatal(err)
	}
	defer file.Close()
	rows, err := csv.NewReader(file).ReadAll()
	if err != nil {
		t.Fatal(err)
	}
	table := map[string][]float64{}
	for _, row := range rows[1:] {
		value, err := strconv.ParseFloat(row[2], 64)
		if err != nil {
			t.Fatal(err)
		}
		table[row[0]] = append(table[row[0]], value)
	}
	return table
}

func TestSeriesAreThoseOfIEC60063(t *testing.T) {
	table := publishedSeries(t)
	if len(table) != 6 {
		t.Fatalf("%d series in the table, want 6", len(table))
	}
	for name, want := range table {
		series, err := ParseSeries(name)
		if err != nil {
			t.Fatal(err)
		}
		got := series.Between(1, 9.99)
		if len(got) != len(want) {
			t.Fatalf("%s has %d values, want %d", name, len(got), len(want))
		}
		for i := range want {
			if got[i] != want[i] {
				t.Errorf("%s[%d] = %v, want %v", name, i, got[i], want[i])
			}
		}
	}
}

func TestNeighboursAndNearest(t *testing.T) {
	tests := []struct {
		series                     Series
		x, below, above, preferred float64
	}{
		{E12, 4.7e-9, 4.7e-9, 4.7e-9, 4.7e-9},
		{E12, 4.7e-9 * (1 + 1e-12), 4.7e-9, 4.7e-9, 4.7e-9},
		{E6, 1000, 1000, 1000, 1000},
		{E6, 999, 680, 1000, 1000},
		{E6, 1001, 1000, 1500, 1000},
		{E24, 26, 24, 27, 27},
		{E96, 9.9e6, 9.76e6, 10e6, 10e6},
		{E3, 1e-12, 1e-12, 1e-12, 1e-12},
		{E12, math.Sqrt(10 * 12), 10, 12, 10}, // a tie in ratio goes down
	}
	for _, tt := range tests {
		below, above := tt.series.Neighbours(tt.x)
		if below != tt.below || above != tt.above || tt.series.Nearest(tt.x) != tt.preferred {
			t.Errorf("%s at %v: %v, %v, nearest %v", tt.series, tt.x, below, above, tt.series.Nearest(tt.x))
		}
	}
}

func TestSeriesOnTheWrongSide(t *testing.T) {
	for _, x := range []float64{0, -1, math.NaN(), math.Inf(1), math.Inf(-1), 5e-324, math.MaxFloat64} {
		if below, above := E12.Neighbours(x); !math.IsNaN(below) || !math.IsNaN(above) {
			t.Errorf("neighbours of %v are %v, %v", x, below, above)
		}
		if nearest := E12.Nearest(x); !math.IsNaN(nearest) {
			t.Errorf("nearest to %v is %v", x, nearest)
		}
	}
	if values := Series(5).Between(1, 10); values != nil {
		t.Errorf("a series E5 has %v", values)
	}
	for _, name := range []string{"", "E5", "12", "E192", "E-12"} {
		if s, err := ParseSeries(name); err == nil {
			t.Errorf("%q was read as %s", name, s)
		}
	}
}

// FuzzNeighbours holds that neighbours embrace what was asked, in order.
func FuzzNeighbours(f *testing.F) {
	f.Add(4.7)
	f.Add(1e-9)
	f.Add(999.9999999999)
	f.Fuzz(func(t *testing.T, x float64) {
		for _, s := range []Series{E3, E6, E12, E24, E48, E96} {
			below, above := s.Neighbours(x)
			if math.IsNaN(below) {
				if x > 1e-290 && x < 1e290 {
					t.Fatalf("%s has no neighbours of %v", s, x)
				}
				continue
			}
			if below > x*(1+2e-9) || above < x*(1-2e-9) || below > above {
				t.Fatalf("%s neighbours of %v: %v, %v", s, x, below, above)
			}
		}
	})
}

package drift

import (
	"encoding/csv"
	"encoding/json"
	"math"
	"os"
	"path/filepath"
	"strconv"
	"testing"
)

// columns reads the numbers of a CSV file in testdata by the names in its first line.
func columns(t testing.TB, name string) map[string][]float64 {
	t.Helper()
	file, err := os.Open(filepath.Join("testdata", name))
	if err != nil {
		t.Fatal(err)
	}
	defer file.Close()
	rows, err := csv.NewReader(file).ReadAll()
	if err != nil {
		t.Fatal(err)
	}
	table := map[string][]float64{}
	for line, row := range rows[1:] {
		for i, field := range row {
			x, err := strconv.ParseFloat(field, 64)
			if err != nil {
				t.Fatalf("%s, line %d: %v", name, line+2, err)
			}
			table[rows[0][i]] = append(table[rows[0][i]], x)
		}
	}
	return table
}

func readJSON(t testing.TB, name string, into any) {
	t.Helper()
	text, err := os.ReadFile(filepath.Join("testdata", name))
	if err != nil {
		t.Fatal(err)
	}
	if err := json.Unmarshal(text, into); err != nil {
		t.Fatalf("%s: %v", name, err)
	}
}

// near wants got within a share of want.
func near(t *testing.T, what string, got, want, share float64) {
	t.Helper()
	if !(math.Abs(got-want) <= share*math.Abs(want)) {
		t.Errorf("%s = %.16g, want %.16g within a share of %g (is off by %.2g)", what, got, want, share, math.Abs(got/want-1))
	}
}

// within wants got within a distance of want.
func within(t *testing.T, what string, got, want, distance float64) {
	t.Helper()
	if !(math.Abs(got-want) <= distance) {
		t.Errorf("%s = %.12g, want %.12g within %g", what, got, want, distance)
	}
}

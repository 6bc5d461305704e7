package reservoir

import (
	"encoding/csv"
	"encoding/json"
	"math"
	"os"
	"path/filepath"
	"strconv"
	"testing"
)

// columns reads the numbers of a CSV file of testdata, by column.
func columns(t testing.TB, name string) [][]float64 {
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
	out := make([][]float64, len(rows[0]))
	for _, row := range rows[1:] {
		for i, cell := range row {
			x, err := strconv.ParseFloat(cell, 64)
			if err != nil {
				t.Fatal(name, err)
			}
			out[i] = append(out[i], x)
		}
	}
	return out
}

// expected reads a JSON file of testdata.
func expected[T any](t testing.TB, name string) (v T) {
	t.Helper()
	text, err := os.ReadFile(filepath.Join("testdata", name))
	if err != nil {
		t.Fatal(err)
	}
	if err := json.Unmarshal(text, &v); err != nil {
		t.Fatal(name, err)
	}
	return v
}

// near fails unless got is within a relative tolerance of want.
func near(t testing.TB, what string, got, want, tolerance float64) {
	t.Helper()
	if !(math.Abs(got-want) <= tolerance*math.Abs(want)) {
		t.Errorf("%s: got %.10g, want %.10g within %g", what, got, want, tolerance)
	}
}

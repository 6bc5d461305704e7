package config

import (
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"

	"soakline/checks"
)

// A sheet with power cycles is read as it stands and written back; drift and power
// cycles exclude each other, so the sheet with every other key has none.
func TestSheetWithPowerCycles(t *testing.T) {
	text := `name: cycled
console: Brambling 8
soak:
  duration: 2h
  power_cycles: {test_point: supply, cycles: 5, on: 10m, off: 90s}
test_points:
  - name: supply
    measure: dc-current
    limit: {high_a: 1, source: common practice}
`
	sheet, err := ParseSheet("cycled.yaml", []byte(text))
	if err != nil {
		t.Fatal(err)
	}
	want := &checks.CyclePlan{TestPoint: "supply", Cycles: 5, On: 10 * time.Minute, Off: 90 * time.Second}
	if diff := cmp.Diff(want, sheet.Soak.Cycles); diff != "" {
		t.Error(diff)
	}
	written, err := FormatSheet(sheet)
	if err != nil {
		t.Fatal(err)
	}
	again, err := ParseSheet("again.yaml", written)
	if err != nil || !cmp.Equal(again.Soak, sheet.Soak) {
		t.Errorf("%v: %+v from\n%s", err, again.Soak, written)
	}
}

package logger

import (
	"math"
	"testing"
	"time"

	"soakline/checks"
	"soakline/device"
)

// readingsOf are readings of a tenth of a second apart.
func readingsOf(values ...float64) []device.Reading {
	begin := time.Unix(1_700_000_000, 0)
	var all []device.Reading
	for i, v := range values {
		all = append(all, device.Reading{Measure: device.DCVoltage, Value: v, At: begin.Add(time.Duration(i) * 100 * time.Millisecond)})
	}
	return all
}

func TestSettled(t *testing.T) {
	rough := device.Accuracy{PercentOfReading: math.Sqrt(3)} // one standard uncertainty is 1 % of the reading
	rows := []struct {
		name     string
		readings []device.Reading
		accuracy device.Accuracy
		settled  bool
		by       float64
		source   string
	}{
		{"all the same", readingsOf(5, 5, 5, 5, 5), device.Accuracy{}, true, 0, "by hand"},
		{"a straight line is no scatter", readingsOf(1, 2, 3, 4, 5), device.Accuracy{}, false, 4, "by hand: slope 10 per second over 0.4 s"},
		{"scatter without a trend", readingsOf(1, -1, 1, -1, 1), device.Accuracy{}, true, 0, "by hand: slope 0"},
		// Slope 10 per second with residuals (0.4, -0.6, 0.4, -0.6, 0.4): s² = 0.4,
		// u of the slope sqrt(0.4/0.1) = 2, times 0.4 s and t(95 %, 3) = 3.182 is 2.55.
		{"a trend larger than its scatter", readingsOf(1.4, 1.4, 3.4, 3.4, 5.4), device.Accuracy{}, false, 4, "JCGM 100:2008, G.2 table: t(95 %, 3) = 3.18"},
		{"a trend that the scatter explains", readingsOf(0, 4, -2, 6, 2), device.Accuracy{}, true, 2.4, "by hand: slope 6 per second; its u is far larger"},
		{"moves by less than the instrument knows", readingsOf(100, 100.1, 100.2, 100.3, 100.4), rough, true, 0.4, "by hand: u = 1"},
		{"moves by more than the instrument knows", readingsOf(100, 100.5, 101, 101.5, 102), rough, false, 2, "by hand: u = 1.02"},
		{"two readings have no line", readingsOf(1, 9), device.Accuracy{}, true, 0, "by hand"},
		{"no reading", nil, device.Accuracy{}, true, 0, "by hand"},
	}
	for _, row := range rows {
		got := moved(row.readings, row.accuracy)
		if got.settled() != row.settled || math.Abs(got.by-row.by) > 1e-9 {
			t.Errorf("%s: moved by %g of %g allowed, want %g, settled %v (%s)", row.name, got.by, got.allowed, row.by, row.settled, row.source)
		}
	}
}

// TestMeanOfReadings holds the mean's uncertainty against JCGM 100:2008: 4.2.3 for
// the scatter, G.6.4 with table G.2 for its widening, 4.3.7 for what is rectangular,
// 5.1.2 for putting them together.
func TestMeanOfReadings(t *testing.T) {
	clause := device.Accuracy{PercentOfRange: 1, Range: math.Sqrt(3)} // 0.01 of standard uncertainty
	// Values 1, 2, 3, 4, 5: mean 3, s = sqrt(2.5), s/sqrt(5) = 0.7071; t(95 %, 4) =
	// 2.776 (table G.2), widened to 0.7071 * 2.776 / 2 = 0.9816.
	scattered := readingsOf(1, 5, 3, 4, 2)
	rows := []struct {
		name     string
		readings []device.Reading
		accuracy device.Accuracy
		move     movement
		mean, u  float64
	}{
		{"scatter alone", scattered, device.Accuracy{}, movement{}, 3, 0.9816},
		{"no scatter, the clause alone", readingsOf(2, 2, 2, 2, 2), clause, movement{}, 2, 0.01},
		{"both", readingsOf(1, 1.02, 1.01, 1.02, 1), clause, movement{}, 1.01, math.Hypot(0.01, 0.01/math.Sqrt(5)*2.7764/2)},
		{"still moving by 6", readingsOf(2, 2, 2, 2, 2), device.Accuracy{}, movement{by: 6, allowed: 1}, 2, math.Sqrt(3)},
		{"one reading", readingsOf(7), clause, movement{}, 7, 0.01},
		{"nothing known", readingsOf(7), device.Accuracy{}, movement{}, 7, 0},
	}
	for _, row := range rows {
		got := meanOf(row.readings, row.accuracy, row.move)
		if math.Abs(got.Value-row.mean) > 1e-12 || math.Abs(got.StandardUncertainty-row.u) > 2e-4 {
			t.Errorf("%s: %g with %g, want %g with %g", row.name, got.Value, got.StandardUncertainty, row.mean, row.u)
		}
	}
	if last := scattered[4].At; !meanOf(scattered, clause, movement{}).At.Equal(last) {
		t.Error("a mean is of the moment of its last reading")
	}
}

func TestMeanOfRecords(t *testing.T) {
	readings := readingsOf(1, 1.1, 1.2)
	for i := range readings {
		readings[i].StandardUncertainty = 0.01 * float64(i+1)
	}
	got := meanOfRecords(readings)
	// s = 0.1, s/sqrt(3) = 0.0577, widened by t(95 %, 2) / 2 = 4.303 / 2 (JCGM
	// 100:2008, table G.2) to 0.1242; with the largest of their own, 0.03.
	if want := math.Hypot(0.12422, 0.03); math.Abs(got.Value-1.1) > 1e-12 || math.Abs(got.StandardUncertainty-want) > 1e-4 {
		t.Errorf("%g with %g, want 1.1 with %g", got.Value, got.StandardUncertainty, want)
	}
	if one := meanOfRecords(readings[:1]); one != readings[0] {
		t.Errorf("one record: %+v", one)
	}
}

func TestRoundFigures(t *testing.T) {
	limit := checks.Limit{Low: -0.1, High: 0.1, Nominal: 0, Guard: checks.GuardBand{Rule: checks.Simple}}
	sheet := checks.Sheet{TestPoints: []checks.TestPoint{
		{Name: "ground", Checks: []checks.Check{{Measure: device.DCVoltage, Limit: limit}}},
		{Name: "output", Checks: []checks.Check{
			{Measure: device.DCVoltage, Limit: limit, Against: checks.Reference{TestPoint: "ground"}},
			{Measure: device.ACVoltage, Limit: limit, Against: checks.Reference{Baseline: true}},
			{Measure: device.Frequency, Limit: limit},
		}},
	}}
	readings := []roundRow{{"ground", device.DCVoltage, 0.05, 3e-3}, {"output", device.DCVoltage, 0.30, 4e-3},
		{"output", device.ACVoltage, 0.01, 0}, {"output", device.Capacitance, 1e-6, 0}}
	got := RoundFigures(sheet, rowsOf(readings...))
	if len(got) != 5 {
		t.Fatalf("%d figures", len(got))
	}
	if f := got[1]; f.State != checks.Outside || math.Abs(f.Figure-0.25) > 1e-12 || math.Abs(f.U-5e-3) > 1e-12 {
		t.Errorf("compared with another test point: %+v, want 0.25 with 5 mV (3-4-5, JCGM 100:2008, 5.1.2)", f)
	}
	if f := got[2]; f.State != "" || f.Reading == nil {
		t.Errorf("a drift from a soak's beginning can't be judged in a round: %+v", f)
	}
	if f := got[3]; f.State != checks.Silent || f.Reading != nil || !math.IsNaN(f.Figure) {
		t.Errorf("not measured: %+v", f)
	}
	if f := got[4]; f.Asked || f.Check.Measure != device.Capacitance || f.State != "" {
		t.Errorf("measured besides: %+v", f)
	}
	without := RoundFigures(sheet, rowsOf(readings[1:]...))
	if f := without[1]; f.State != checks.Silent || !math.IsNaN(f.Figure) || f.Reading == nil {
		t.Errorf("without its reference: %+v", f)
	}
}

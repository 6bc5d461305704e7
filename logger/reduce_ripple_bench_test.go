package logger

import (
	"math"
	"testing"

	"soakline/checks"
	"soakline/device"
)

// BenchmarkReduceRipple reduces a record of 0.2 s at 50 kS/s of a worn capacitor.
func BenchmarkReduceRipple(b *testing.B) {
	point := checks.TestPoint{Name: "reservoir-ripple", Reservoir: &checks.ReservoirPlan{MainsHertz: 50, LoadAmperes: 0.45, LoadTolerance: 0.1}}
	record := device.Capture{Volts: make([]float64, 10000), SampleIntervalSeconds: 20e-6, StepVolts: 4.0 / 256, Coupling: "dc"}
	for i := range record.Volts {
		// A straight fall to 11.2 V and a rise with the mains' sine, in steps of the converter.
		t := math.Mod(float64(i)*20e-6, 0.01)
		v := max(12-100*t, 12*math.Abs(math.Cos(2*math.Pi*50*t)))
		record.Volts[i] = math.Round(v/record.StepVolts) * record.StepVolts
	}
	for b.Loop() {
		r, err := reduceRipple(record, point, besideOf(point))
		if err != nil || len(r.readings) < 6 {
			b.Fatalf("%+v, %v", r, err)
		}
	}
}

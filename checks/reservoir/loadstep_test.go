package reservoir

import (
	"fmt"
	"math"
	"math/rand/v2"
	"testing"
)

// stepCircuit is a charged capacitor with ESR whose load steps by 0.5 A at 20 ms;
// source is a resistance to 12 V that stays connected, 0 for none.
func stepCircuit(farads, esr, source float64) string {
	text := fmt.Sprintf("c1 out p %g ic=11.9\nre p 0 %g\ni1 out 0 pwl(0 0.05 0.02 0.05 0.020001 0.55 10 0.55)\n", farads, esr)
	if source > 0 {
		return text + fmt.Sprintf("v1 s 0 12\nrs s out %g\n", source)
	}
	return text
}

// ESR within 5 % and capacitance within 3 % of the netlist's.
func TestSimulatedLoadStep(t *testing.T) {
	for _, row := range []struct{ farads, esr float64 }{{4700e-6, 0.05}, {4700e-6, 0.5}, {1000e-6, 1}, {10000e-6, 0.02}} {
		_, volts := simulate(t, stepCircuit(row.farads, row.esr, 0), 0.01, 0.03, 10e-6)
		f, err := FitLoadStep(volts, 10e-6, StepOptions{StepAmperes: 0.5, SourceOhms: math.Inf(1)})
		if err != nil {
			t.Fatal(err)
		}
		near(t, "ESR", f.ESR.Value, row.esr, 0.05)
		near(t, "capacitance", f.Capacitance.Value, row.farads, 0.03)
		near(t, "instant", f.AtSeconds, 0.01, 0.01)
	}
}

// A source in parallel with the capacitor halves an ESR read from a load step if it
// has the same resistance: it is found from where the voltage settles.
func TestSourceInParallelHalvesTheESR(t *testing.T) {
	for _, row := range []struct{ esr, source float64 }{{0.5, 0.5}, {0.2, 1}, {1, 0.6}} {
		_, volts := simulate(t, stepCircuit(1000e-6, row.esr, row.source), 0.01, 0.05, 10e-6)
		f, err := FitLoadStep(volts, 10e-6, StepOptions{StepAmperes: 0.5})
		if err != nil {
			t.Fatal(err)
		}
		near(t, "as read", f.ReadOhms.Value, parallel(row.esr, row.source), 0.05)
		near(t, "source", f.Source.Value, row.source, 0.05)
		near(t, "ESR", f.ESR.Value, row.esr, 0.05)
		near(t, "capacitance", f.Capacitance.Value, 1000e-6, 0.03)
		if !has(f.Findings, codeSourceParallel) {
			t.Error("not said that a source lies in parallel")
		}
		given, err := FitLoadStep(volts, 10e-6, StepOptions{StepAmperes: 0.5, SourceOhms: row.source})
		if err != nil {
			t.Fatal(err)
		}
		near(t, "ESR, source given", given.ESR.Value, row.esr, 0.05)
	}
}

func TestRecordsWithoutAStep(t *testing.T) {
	random := rand.New(rand.NewPCG(5, 5))
	for name, at := range map[string]func(i int) float64{
		"flat":           func(int) float64 { return 12 },
		"noise":          func(int) float64 { return 12 + 0.1*random.NormFloat64() },
		"slope":          func(i int) float64 { return 12 - 0.001*float64(i) },
		"jump upwards":   func(i int) float64 { return 12 + float64(i/500) },
		"a NaN":          func(i int) float64 { return []float64{12, math.NaN()}[i%2] },
		"step at an end": func(i int) float64 { return 12 - float64(i/997) },
	} {
		volts := make([]float64, 1000)
		for i := range volts {
			volts[i] = at(i)
		}
		f, err := FitLoadStep(volts, 1e-5, StepOptions{StepAmperes: 0.5})
		if err != nil {
			t.Fatal(err)
		}
		if f.ESR.OK() || !has(f.Findings, codeNoStep) {
			t.Errorf("%s: %+v", name, f)
		}
	}
	if f, err := FitLoadStep(nil, 1e-5, StepOptions{StepAmperes: 0.5}); err != nil || f.ESR.OK() {
		t.Errorf("nothing: %+v %v", f, err)
	}
	for _, o := range []StepOptions{{}, {StepAmperes: math.NaN()}, {StepAmperes: 1, StepU: -1}, {StepAmperes: 1, SourceOhms: -1}} {
		if _, err := FitLoadStep(nil, 1, o); err == nil {
			t.Errorf("%+v was accepted", o)
		}
	}
	if _, err := FitLoadStep(nil, 0, StepOptions{StepAmperes: 1}); err == nil {
		t.Error("no interval")
	}
}

func FuzzFitLoadStep(f *testing.F) {
	f.Add(12.0, 0.5, 0.01, 0.1, 50)
	f.Add(math.MaxFloat64, -1e300, 1e-300, 7.0, 11)
	f.Fuzz(func(t *testing.T, level, jump, slope, noise float64, at int) {
		random := rand.New(rand.NewPCG(1, 2))
		volts := make([]float64, 120)
		for i := range volts {
			volts[i] = level + slope*float64(i) + noise*random.NormFloat64()
			if i > at {
				volts[i] -= jump
			}
		}
		if _, err := FitLoadStep(volts, 1e-5, StepOptions{StepAmperes: 0.5}); err != nil {
			t.Fatal(err)
		}
	})
}

package reservoir

import (
	"fmt"
	"math"
	"math/rand/v2"
	"testing"

	"soakline/checks/parts"
)

// The table below W-25: Vp 12 V, 1 A, 4700 uF (derived). Each form gives the
// capacitance back from its own ripple.
func TestW20ToW22CapacitanceFromRipple(t *testing.T) {
	for _, row := range []struct {
		hertz, simple, better, exact, simpleHalf, exactHalf float64
	}{
		{50, 2.127660, 1.756588, 1.739344, 4.255319, 3.690406},
		{60, 1.773050, 1.488914, 1.476820, 3.546099, 3.116699},
	} {
		from := func(ripple float64, half bool) RippleCapacitance {
			c, err := CapacitanceFromRipple(RippleFigures{RippleVolts: ripple, PeakVolts: 12, LoadAmperes: 1, MainsHertz: row.hertz, HalfWave: half})
			if err != nil {
				t.Fatal(err)
			}
			return c
		}
		near(t, "W-20, full wave", from(row.simple, false).SimpleFarads, 4700e-6, 1e-6)
		near(t, "W-20, half wave", from(row.simpleHalf, true).SimpleFarads, 4700e-6, 1e-6)
		near(t, "W-21", from(row.better, false).BetterFarads, 4700e-6, 1e-6)
		near(t, "W-22, full wave", from(row.exact, false).Farads.Value, 4700e-6, 1e-5)
		near(t, "W-22, half wave", from(row.exactHalf, true).Farads.Value, 4700e-6, 1e-5)
	}
}

// The rule of thumb over-states ripple, and a capacitance by as much: about 20 % in
// the worked example, up to a half and more with a large ripple.
func TestRuleOfThumbIsWrongByTheConductionAngle(t *testing.T) {
	for _, row := range []struct{ amperes, low, high float64 }{{0.2, 1.05, 1.15}, {1, 1.18, 1.25}, {3, 1.3, 1.9}} {
		forward, err := parts.Reservoir{PeakV: 12, LoadA: row.amperes, CapacitanceF: 4700e-6, MainsHz: 50}.Calculate()
		if err != nil {
			t.Fatal(err)
		}
		c, err := CapacitanceFromRipple(RippleFigures{RippleVolts: forward.ExactV, PeakVolts: 12, LoadAmperes: row.amperes, MainsHertz: 50})
		if err != nil {
			t.Fatal(err)
		}
		near(t, "exact form", c.Farads.Value, 4700e-6, 1e-6)
		if over := c.SimpleFarads / 4700e-6; over < row.low || over > row.high {
			t.Errorf("%g A: the rule of thumb says %.2f times the capacitance", row.amperes, over)
		}
	}
}

// W-23, a load that is a resistance: forward by the bench arithmetic, and back.
func TestW23ResistiveLoad(t *testing.T) {
	for _, ohms := range []float64{5, 12, 50} {
		for _, half := range []bool{false, true} {
			forward, err := parts.Reservoir{PeakV: 12, LoadOhm: ohms, CapacitanceF: 4700e-6, MainsHz: 60, HalfWave: half}.Calculate()
			if err != nil {
				t.Fatal(err)
			}
			c, err := CapacitanceFromRipple(RippleFigures{RippleVolts: forward.ResistiveV, PeakVolts: 12, LoadOhms: ohms, MainsHertz: 60, HalfWave: half})
			if err != nil {
				t.Fatal(err)
			}
			near(t, "W-23", c.Farads.Value, 4700e-6, 1e-6)
		}
	}
}

// The uncertainty is what the figure moves by when an input moves by its own
// (JCGM 100:2008, 5.1.3, note 2).
func TestUncertaintyFromRippleAndLoad(t *testing.T) {
	g := RippleFigures{RippleVolts: 1.74, RippleU: 0.02, PeakVolts: 12, LoadAmperes: 1, MainsHertz: 50}
	a, _ := CapacitanceFromRipple(g)
	g.RippleVolts += g.RippleU
	b, _ := CapacitanceFromRipple(g)
	near(t, "u by ripple", a.Farads.U, math.Abs(b.Farads.Value-a.Farads.Value), 0.05)
	g.RippleVolts, g.RippleU, g.LoadU = 1.74, 0, 0.03
	c, _ := CapacitanceFromRipple(g)
	near(t, "u by load", c.Farads.U, 0.03*c.Farads.Value, 1e-9)
}

func TestRippleFiguresRefused(t *testing.T) {
	good := RippleFigures{RippleVolts: 1, PeakVolts: 12, LoadAmperes: 1, MainsHertz: 50}
	for name, change := range map[string]func(*RippleFigures){
		"no ripple":            func(g *RippleFigures) { g.RippleVolts = 0 },
		"ripple above peak":    func(g *RippleFigures) { g.RippleVolts = 12 },
		"not a number":         func(g *RippleFigures) { g.PeakVolts = math.NaN() },
		"no load":              func(g *RippleFigures) { g.LoadAmperes = 0 },
		"two loads":            func(g *RippleFigures) { g.LoadOhms = 12 },
		"no mains":             func(g *RippleFigures) { g.MainsHertz = 0 },
		"negative uncertainty": func(g *RippleFigures) { g.LoadU = -1 },
	} {
		g := good
		change(&g)
		if _, err := CapacitanceFromRipple(g); err == nil {
			t.Errorf("%s was accepted", name)
		}
	}
}

// bridge is a full or half wave rectifier with junction diodes, its winding behind
// a resistance, and a load of constant current.
func bridge(farads, esr, amperes, source float64, half bool) string {
	text := fmt.Sprintf(`v1 w 0 sin(0 13.5 50)
rs w a %g
c1 out p %g ic=11
re p 0 %g
i1 out 0 %g
.model di d(is=1e-9 n=1.5 rs=0.01)
`, source, farads, max(esr, 1e-6), amperes)
	if half {
		return text + "d1 a out di\n"
	}
	return text + "b2 b 0 v=-v(w)\nrb b bb " + fmt.Sprint(source) + "\nd1 a out di\nd2 bb out di\n"
}

// One ohm of ESR raises the ripple as losing a third of the capacitance would: the
// steps and slopes of the record tell the two apart. Capacitance within 3 %, ESR
// within 5 %, of the netlist's.
func TestSimulatedRippleTellsESRFromCapacitance(t *testing.T) {
	for _, row := range []struct {
		farads, esr, amperes, source float64
		half                         bool
	}{
		{4700e-6, 0.1, 1, 0.1, false}, {4700e-6, 1, 0.45, 0.1, false}, {3100e-6, 0.05, 0.45, 0.2, false},
		{2200e-6, 0.3, 0.3, 0.5, false}, {10000e-6, 0.05, 1.5, 0.05, false}, {4700e-6, 0.2, 0.45, 0.2, true},
		{1000e-6, 0.5, 0.1, 0.3, true},
	} {
		t.Run(fmt.Sprintf("%+v", row), func(t *testing.T) {
			_, volts := simulate(t, bridge(row.farads, row.esr, row.amperes, row.source, row.half), 0.4, 0.2, 20e-6)
			hertz := 100.0
			if row.half {
				hertz = 50
			}
			f, err := FitRipple(volts, 20e-6, RippleOptions{LoadAmperes: row.amperes, RippleHertz: hertz, HalfWave: row.half})
			if err != nil {
				t.Fatal(err)
			}
			near(t, "capacitance", f.Capacitance.Value, row.farads, 0.03)
			if row.esr < row.source/2 {
				// Little beside the winding's resistance; the uncertainty says so.
				if !(math.Abs(f.ESR.Value-row.esr) <= 2*f.ESR.U) {
					t.Errorf("ESR: %+v, is %g", f.ESR, row.esr)
				}
				return
			}
			near(t, "ESR", f.ESR.Value, row.esr, 0.05)
			if t.Failed() {
				t.Logf("%+v", f)
			}
		})
	}
}

// A load that is a resistance, and the load's own uncertainty in the figures.
func TestSimulatedRippleWithAResistor(t *testing.T) {
	circuit := bridge(3300e-6, 0.2, 0, 0.15, false) + "rload out 0 24\n"
	_, volts := simulate(t, circuit, 0.4, 0.2, 20e-6)
	f, err := FitRipple(volts, 20e-6, RippleOptions{LoadOhms: 24, LoadU: 0.48, RippleHertz: 100})
	if err != nil {
		t.Fatal(err)
	}
	near(t, "capacitance", f.Capacitance.Value, 3300e-6, 0.03)
	near(t, "ESR", f.ESR.Value, 0.2, 0.05)
	near(t, "uncertainty from the load's 2 %", f.Capacitance.U, 0.02*f.Capacitance.Value, 0.1)
}

// A record from a scope: eight bits, noise, the mains not quite at 50 Hz. The
// figures are the circuit's own within three of their uncertainties.
func TestRippleFromANoisyRecord(t *testing.T) {
	c := circuit{
		peak: 13, drop: 1, source: 0.2, farads: 3300e-6, esr: 0.3, amperes: 0.45, hertz: 100,
		bins: 500, inside: 4, mostCycles: 60, settledWithin: 1e-10,
	}
	mean := make([]float64, 500)
	c.ripple(12, mean)
	random := rand.New(rand.NewPCG(4, 4))
	volts := make([]float64, 20000)
	for i := range volts {
		phase := math.Mod(float64(i)*20e-6*99.8, 1)
		volts[i] = mean[int(phase*500)] + 0.01*random.NormFloat64()
		volts[i] = math.Round(volts[i]/0.02) * 0.02
	}
	f, err := FitRipple(volts, 20e-6, RippleOptions{LoadAmperes: 0.45, LoadU: 0.005, RippleHertz: 100})
	if err != nil {
		t.Fatal(err)
	}
	near(t, "frequency", f.Hertz, 99.8, 2e-4)
	for _, row := range []struct {
		what string
		got  Estimate
		want float64
	}{{"capacitance", f.Capacitance, 3300e-6}, {"ESR", f.ESR, 0.3}} {
		if !(math.Abs(row.got.Value-row.want) < 3*row.got.U) || row.got.U > 0.1*row.want {
			t.Errorf("%s: %+v, is %g", row.what, row.got, row.want)
		}
	}
}

func TestRecordsThatAreNoRipple(t *testing.T) {
	random := rand.New(rand.NewPCG(4, 5))
	for name, at := range map[string]func(i int) float64{
		"flat":      func(int) float64 { return 12 },
		"noise":     func(int) float64 { return 12 + 0.1*random.NormFloat64() },
		"sine":      func(i int) float64 { return 12 + math.Sin(2*math.Pi*100*float64(i)*20e-6) },
		"square":    func(i int) float64 { return 12 + math.Copysign(1, math.Sin(2*math.Pi*100*float64(i)*20e-6)) },
		"about 0 V": func(i int) float64 { return math.Mod(float64(i), 500) / -500 },
		"a NaN":     func(i int) float64 { return []float64{12, math.NaN()}[i%2] },
	} {
		volts := make([]float64, 5000)
		for i := range volts {
			volts[i] = at(i)
		}
		f, err := FitRipple(volts, 20e-6, RippleOptions{LoadAmperes: 1, RippleHertz: 100})
		if err != nil {
			t.Fatal(err)
		}
		if f.Capacitance.OK() || !has(f.Findings, codeNoRippleFit) {
			t.Errorf("%s: %+v", name, f)
		}
	}
	for _, n := range []int{0, 1, 100} {
		if f, err := FitRipple(make([]float64, n), 20e-6, RippleOptions{LoadAmperes: 1, RippleHertz: 100}); err != nil || f.Capacitance.OK() {
			t.Errorf("%d samples: %+v %v", n, f, err)
		}
	}
	for _, o := range []RippleOptions{{}, {LoadAmperes: 1}, {LoadAmperes: 1, LoadOhms: 1, RippleHertz: 1}, {LoadAmperes: math.NaN(), RippleHertz: 100}} {
		if _, err := FitRipple(nil, 1, o); err == nil {
			t.Errorf("%+v was accepted", o)
		}
	}
}

func BenchmarkFitRipple(b *testing.B) {
	c := circuit{peak: 13, drop: 1, source: 0.2, farads: 3300e-6, esr: 0.3, amperes: 0.45, hertz: 100,
		bins: 500, inside: 4, mostCycles: 60, settledWithin: 1e-10}
	mean := make([]float64, 500)
	c.ripple(12, mean)
	volts := make([]float64, 10000)
	for i := range volts {
		volts[i] = mean[i%500]
	}
	for b.Loop() {
		if _, err := FitRipple(volts, 20e-6, RippleOptions{LoadAmperes: 0.45, RippleHertz: 100}); err != nil {
			b.Fatal(err)
		}
	}
}

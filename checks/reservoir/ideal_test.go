package reservoir

import (
	"fmt"
	"math"
	"math/rand/v2"
	"testing"
)

// idealRipple is the voltage of a reservoir with ideal diodes and a stiff winding,
// W-22 with W-24: the sine where it is above the straight fall that leaves it, and
// the ESR's drop on top.
func idealRipple(t, peak, mains, amperes, farads, esr float64, half bool) float64 {
	period, omega := 1/(2*mains), 2*math.Pi*mains
	if half {
		period *= 2
	}
	t -= math.Floor(t/period) * period
	leave := math.Asin(amperes/farads/(omega*peak)) / omega
	sine := func(t float64) float64 { return peak * math.Cos(omega*t) }
	current := func(t float64) float64 { return -farads * omega * peak * math.Sin(omega*t) }
	if t < leave {
		return sine(t) + esr*current(t)
	}
	falling := sine(leave) - amperes/farads*(t-leave)
	if t > period-1/(4*mains) && sine(t-period) > falling {
		return sine(t-period) + esr*current(t-period)
	}
	return falling - esr*amperes
}

// Without any resistance in the winding, and with ESR as a step on either edge.
func TestFitIdealRipple(t *testing.T) {
	for _, row := range []struct {
		farads, esr, interval float64
		half                  bool
	}{
		{4700e-6, 0, 20e-6, false}, {4700e-6, 0, 100e-6, false}, {3300e-6, 0, 40e-6, true}, {4700e-6, 0.1, 20e-6, false},
		{2200e-6, 0.3, 20e-6, true}, {4700e-6, 0.04, 20e-6, false}, {1000e-6, 0, 50e-6, false},
	} {
		t.Run(fmt.Sprintf("%+v", row), func(t *testing.T) {
			volts := make([]float64, int(0.4/row.interval))
			for i := range volts {
				volts[i] = idealRipple(float64(i)*row.interval+0.0031, 12, 50, 0.45, row.farads, row.esr, row.half)
			}
			hertz := 100.0
			if row.half {
				hertz = 50
			}
			f, err := FitRipple(volts, row.interval, RippleOptions{LoadAmperes: 0.45, RippleHertz: hertz, HalfWave: row.half})
			if err != nil {
				t.Fatal(err)
			}
			near(t, "capacitance", f.Capacitance.Value, row.farads, 0.03)
			if row.esr > 0 && f.ESR.OK() && !(math.Abs(f.ESR.Value-row.esr) < max(3*f.ESR.U, 0.1*row.esr)) {
				t.Errorf("ESR: %+v, is %g", f.ESR, row.esr)
			}
			t.Logf("%+v", f)
		})
	}
}

// However a record of eight bits begins: where the cycles lie over each other badly, the
// step of the ESR is smeared and its figure falls short.
func TestFitBeginsAnywhere(t *testing.T) {
	random := rand.New(rand.NewPCG(1, 2))
	for _, row := range []struct{ farads, esr, mains float64 }{
		{4700e-6, 0.04, 50}, {3300e-6, 0.15, 50}, {3300e-6, 0.3, 50}, {3300e-6, 0.15, 49.93},
	} {
		for range 8 {
			from := random.Float64() * 0.02
			volts := make([]float64, 10000)
			for i := range volts {
				v := idealRipple(float64(i)*20e-6+from, 12, row.mains, 0.45, row.farads, row.esr, false) + 0.003*random.NormFloat64()
				volts[i] = math.Round(v/0.0125) * 0.0125
			}
			f, err := FitRipple(volts, 20e-6, RippleOptions{LoadAmperes: 0.45, RippleHertz: 100})
			if err != nil {
				t.Fatal(err)
			}
			near(t, "capacitance", f.Capacitance.Value, row.farads, 0.03)
			if !(math.Abs(f.ESR.Value-row.esr) < max(0.05*row.esr, 3*f.ESR.U)) || f.ESR.U > 0.15*row.esr {
				t.Errorf("%+v from %g s: ESR %+v", row, from, f.ESR)
			}
		}
	}
}

package reservoir

import (
	"math"
	"testing"
)

func FuzzFitRipple(f *testing.F) {
	f.Add(12.0, 1.0, 100.0, 0.5, 0.1, 50)
	f.Add(-1e8, 1e9, 99.0, 0.0, 1e-300, 7)
	f.Fuzz(func(t *testing.T, level, ripple, hertz, bend, jump float64, at int) {
		volts := make([]float64, 400)
		for i := range volts {
			phase := math.Mod(float64(i)*hertz*1e-4, 1)
			volts[i] = level - ripple*math.Pow(math.Abs(phase), 1+math.Abs(bend))
			if i%50 == at {
				volts[i] += jump
			}
		}
		r, err := FitRipple(volts, 1e-4, RippleOptions{LoadAmperes: 0.5, RippleHertz: 100})
		if err != nil {
			t.Fatal(err)
		}
		if r.Capacitance.Value <= 0 || r.ESR.Value <= 0 {
			t.Fatalf("%+v", r)
		}
	})
}

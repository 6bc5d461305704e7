package reservoir_test

import (
	"fmt"
	"math"

	"soakline/checks/reservoir"
)

// A Brambling 8 is switched off; its reservoir has a bleeder of 8.7 kohm.
func ExampleAnalyseDischarge() {
	var seconds, volts []float64
	for s := 0.0; s < 60; s += 0.5 {
		seconds = append(seconds, s)
		volts = append(volts, 12*math.Exp(-s/41))
	}
	d, err := reservoir.AnalyseDischarge(seconds, volts, reservoir.DischargeOptions{BelowVolts: 2, LoadOhms: 8700})
	if err != nil {
		panic(err)
	}
	fmt.Printf("tau %.1f s, below 2.0 V after %.0f s by estimate, %.0f uF\n",
		d.Tau.Value, d.SecondsToBelow.Value, 1e6*d.Capacitance.Value)
	// Output: tau 41.0 s, below 2.0 V after 73 s by estimate, 4717 uF
}

// The rule of thumb says a fifth too much.
func ExampleCapacitanceFromRipple() {
	c, err := reservoir.CapacitanceFromRipple(reservoir.RippleFigures{
		RippleVolts: 1.74, PeakVolts: 12, LoadAmperes: 1, MainsHertz: 50,
	})
	if err != nil {
		panic(err)
	}
	fmt.Printf("rule of thumb %.0f uF, exact %.0f uF\n", 1e6*c.SimpleFarads, 1e6*c.Farads.Value)
	// Output: rule of thumb 5747 uF, exact 4698 uF
}

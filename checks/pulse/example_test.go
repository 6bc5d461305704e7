package pulse_test

import (
	"fmt"

	"soakline/checks/pulse"
)

func ExampleTransitions() {
	volts := []float64{0, 0, 0, 0, 0.2, 0.6, 0.95, 1, 1, 1, 1}
	levels, _ := pulse.HistogramLevels(volts, pulse.HistogramOptions{Estimate: pulse.BinMean})
	edges, _ := pulse.Transitions(volts, 10e-9, levels)
	fmt.Printf("%.2f V to %.2f V, %s in %.1f ns\n",
		levels.Low, levels.High, edges[0].Edge, edges[0].DurationSeconds*1e9)
	// Output: 0.00 V to 1.00 V, rising in 23.6 ns
}

func ExampleAberrations() {
	volts := []float64{0.70, 0.70, 0.70, 0.70, 0.35, -0.056, 0, 0, 0, 0}
	levels, _ := pulse.GivenLevels(0, 0.7)
	edges, _ := pulse.Transitions(volts, 40e-9, levels)
	_, post, _ := pulse.Aberrations(volts, 40e-9, levels, edges[0], pulse.AberrationOptions{})
	fmt.Printf("%s edge, %s: undershoot %.1f %%\n", post.Edge, post.Region, post.UndershootPercent)
	// Output: falling edge, post-transition: undershoot 8.0 %
}

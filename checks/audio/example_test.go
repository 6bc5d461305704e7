package audio_test

import (
	"fmt"

	"soakline/checks"
	"soakline/checks/audio"
)

func ExampleAnalyse() {
	// Two seconds of a 1 kHz tone; the right channel carries 100 Hz ripple.
	left := made{seconds: 2, sines: []sine{{0.316, 1000, 0}}, noise: 3e-5}
	right := made{seconds: 2, sines: []sine{{0.300, 1000, 0}, {0.002, 100, 0}}, noise: 3e-5, seed: 1}
	result, err := audio.Analyse(stereo(left.volts(), right.volts()), audio.Options{MainsHertz: 50, Limits: audio.WorkshopLimits()})
	if err != nil {
		fmt.Println(err)
		return
	}
	for _, c := range result.Channels {
		fmt.Printf("%s: %.1f dBV, noise %.0f dBV\n", c.Name, c.RMSVolts.DBV().Value, c.NoiseVolts.DBV().Value)
	}
	fmt.Printf("balance %.2f dB\n", result.Balance.Decibels.Value)
	for _, f := range checks.Shown(result.Findings) {
		fmt.Println(f.Code, f.State)
	}
	// Output:
	// left: -10.0 dBV, noise -91 dBV
	// right: -10.5 dBV, noise -54 dBV
	// balance 0.45 dB
	// hum borderline
}

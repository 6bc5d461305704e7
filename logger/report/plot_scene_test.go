package report

import (
	"math"
	"math/rand/v2"
	"time"
)

// videoLine is an invented 625/50 line (levels and times of ITU-R BT.470-6: sync
// -300 mV for 4.7 us, burst 300 mV p-p, white bar 700 mV), its edges through a
// single pole, with a gain and noise. The first sample is 1.5 us before sync.
func videoLine(label string, gain, tau, noise float64, seed uint64) Trace {
	const interval = 20e-9
	rng := rand.New(rand.NewPCG(seed, 1))
	t := Trace{Label: label, StartSeconds: -1.5e-6, IntervalSeconds: interval}
	level, state := 0.0, 0.0
	for i := range 3200 {
		us := float64(i)*interval*1e6 - 1.5
		switch {
		case us >= 0 && us < 4.7:
			level = -0.3
		case us >= 12 && us < 37:
			level = 0.7
		case us >= 37 && us < 61:
			level = 0.7 * (1 - math.Floor((us-37)/4)/6)
		default:
			level = 0
		}
		state += (level - state) * (1 - math.Exp(-interval/tau))
		v := state
		if us >= 5.6 && us < 7.85 {
			v += 0.15 * math.Sin(2*math.Pi*4.43361875*us)
		}
		t.Volts = append(t.Volts, gain*v+noise*rng.NormFloat64())
	}
	return t
}

func trialPlot() LinePlot {
	baseline := videoLine("as received", 0.84, 120e-9, 0.006, 1)
	return LinePlot{
		Title: "B8-0147 composite: trial of the series resistor",
		Traces: []Trace{
			videoLine("68 ohm", 1.06, 40e-9, 0.003, 2),
			videoLine("75 ohm", 1.0, 40e-9, 0.003, 3),
			videoLine("82 ohm", 0.95, 40e-9, 0.003, 4),
		},
		Baseline: &baseline,
		Rulers: []Ruler{
			{Label: "white", Volts: 0.700}, {Label: "black", Volts: 0.001},
			{Label: "blanking", Volts: 0.000}, {Label: "sync tip", Volts: -0.300, Text: "-0.300 V ± 0.003"},
		},
	}
}

// soakBegin is a November morning at an invented bench one hour east.
var soakBegin = time.Date(2026, time.November, 24, 9, 10, 0, 0, time.FixedZone("bench", 3600))

// nightSoak is an invented soak of a 5 V rail over a day: one gap, a sag through
// the lower limit at night, a visit to the guard band, and the last hours still
// to come.
func nightSoak() SoakPlot {
	at := func(hours float64) time.Time { return soakBegin.Add(time.Duration(hours * float64(time.Hour))) }
	p := SoakPlot{
		Title: "B8-0152 rail-5v over the soak", Unit: "V",
		Begin: soakBegin, End: at(24), Written: at(20),
		Low: 4.75, High: 5.25, GuardWidth: 0.03,
		Gaps: []PlotInterval{{at(6), at(6.6)}},
		Excursions: []ExcursionMark{
			{PlotInterval: PlotInterval{at(16.9), at(17.3)}, Worst: 4.69},
			{PlotInterval: PlotInterval{at(11), at(11.2)}, Worst: 5.231, Borderline: true},
		},
	}
	rng := rand.New(rand.NewPCG(5, 6))
	for h := 0.0; h < 20; h += 0.05 {
		if h >= 6 && h < 6.6 {
			continue
		}
		mean := 5.05 + 0.1*math.Sin(h/4)
		switch {
		case h > 16.9 && h < 17.3:
			mean = 4.71
		case h > 11 && h < 11.2:
			mean = 5.22
		}
		p.Envelope = append(p.Envelope, EnvelopePoint{At: at(h), Low: mean - 0.01 - 0.01*rng.Float64(), High: mean + 0.005 + 0.005*rng.Float64()})
	}
	return p
}

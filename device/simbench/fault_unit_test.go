package simbench

import (
	"math"
	"testing"
)

// glance is what a test point shows over one mains period, now.
func (u *unit) glance(name string, t float64, n int) []float64 {
	w := &wire{unit: u, name: name, probe: 1}
	v := make([]float64, n)
	w.fill(v, t, 0.02/float64(n))
	return v
}

func TestFaultsOfAUnit(t *testing.T) {
	b, err := New(fast(t))
	if err != nil {
		t.Fatal(err)
	}
	u := b.units["B8-0147"]
	lineAt := 100 * 64e-6
	video := func() sampled {
		s := sampled{v: make([]float64, 70000), from: lineAt - 2e-6, dt: 1e-9}
		(&wire{unit: u, name: "composite", probe: 1}).fill(s.v, s.from, s.dt)
		return s
	}
	white := func() float64 { s := video(); return s.part(lineAt+11.5e-6, lineAt+16e-6).mean() }
	base, half := white(), peakToPeak(u.glance("reservoir", 0.1, 4000))
	for _, row := range []struct {
		fault        string
		look         func() float64
		want, within float64
	}{
		{"hot composite 1.2", white, 0.012 + (base-0.012)*1.2, 5e-3},
		{"load composite none", white, 0.012 + (base-0.012)*2, 5e-3},
		{"load composite double", white, 0.012 + (base-0.012)*2/3, 5e-3},
		{"load composite 50", white, 0.012 + (base-0.012)*0.8, 5e-3},
		{"offset composite 0.5", white, base - 0.012 + 0.5, 5e-3},
		{"sync composite 0.5", func() float64 { return video().part(lineAt+1e-6, lineAt+4e-6).mean() }, 0.012 - 0.1485, 3e-3},
		{"picture composite black", white, 0.012, 3e-3},
		{"noise composite 0.05", func() float64 {
			return deviation(video().part(lineAt+1e-6, lineAt+4e-6).v)
		}, 0.05, 3e-3},
		{"burst composite 0", func() float64 {
			peak, _ := video().part(lineAt+5.7e-6, lineAt+7.7e-6).correlate(4433618.75)
			return peak
		}, 0, 3e-3},
		{"half-wave", func() float64 { return peakToPeak(u.glance("reservoir", 0.1, 4000)) }, 2.06 * half, 0.15 * half},
		// A fall of 0.45 A/4700 uF from a peak of 12 V at 50 Hz, full wave, by W-22 worked
		// apart, and the same with half the capacitance.
		{"wear 0.0047 0", func() float64 { return peakToPeak(u.glance("reservoir", 0.1, 4000)) }, 0.83894, 0.01},
		{"wear 0.00235 0", func() float64 { return peakToPeak(u.glance("reservoir", 0.1, 4000)) }, 1.58280, 0.01},
		{"step rail-5v -0.4", func() float64 { return mean(u.glance("rail-5v", 1, 100)) }, 4.617, 1e-3},
		{"drift rail-5v -0.01", func() float64 { return mean(u.glance("rail-5v", 10, 100)) }, 4.917, 1e-3},
		{"ripple rail-5v 0.3", func() float64 { return peakToPeak(u.glance("rail-5v", 1, 1000)) }, 0.3, 5e-3},
		{"noise rail-5v 0.1", func() float64 { return deviation(u.glance("rail-5v", 1, 10000)) }, 0.1, 5e-3},
		{"hum audio-left 1", func() float64 { return deviation(u.glance("audio-left", 1, 2000)) }, math.Hypot(0.316, 1/2.828427), 5e-3},
		{"hot audio-left 2", func() float64 { return deviation(u.glance("audio-left", 1, 2000)) }, 0.632, 5e-3},
		{"noise audio-left 0.2", func() float64 { return deviation(u.glance("audio-left", 1, 20000)) }, math.Hypot(0.316, 0.2), 8e-3},
		{"crackle audio-left 2 0.01", func() float64 { return peakToPeak(u.glance("audio-left", 1, 100000)) }, 2 + 0.316*1.414214*(1+math.Sin(0.2*math.Pi)), 5e-3},
		{"mute audio-left 0.01", func() float64 { return deviation(u.glance("audio-left", 1, 100000)) }, 250e-6, 20e-6},
		{"offset audio-left 0.2", func() float64 { return mean(u.glance("audio-left", 1, 2000)) }, 0.2, 3e-3},
	} {
		before := row.look()
		cause(t, b, "B8-0147 "+row.fault)
		near(t, row.fault, row.look(), row.want, row.within)
		cause(t, b, "B8-0147 clear")
		near(t, "after "+row.fault+" is cleared", row.look(), before, row.within)
	}
}

func TestHumToneBandwidthRingCouplingAreTaken(t *testing.T) {
	b, err := New(fast(t))
	if err != nil {
		t.Fatal(err)
	}
	for _, line := range []string{
		"hum composite 0.1", "tone composite 1e6 0.01", "bandwidth composite 2e6", "ring composite 5e6 0.1", "coupling composite 220e-6",
	} {
		cause(t, b, "B8-0147 "+line)
	}
	got := b.units["B8-0147"].composite.config.OutputConfig
	want := got
	want.HumPPV, want.ToneHz, want.ToneRMSV, want.BandwidthHz = 0.1, 1e6, 0.01, 2e6
	want.RingHz, want.RingRatio, want.CouplingF = 5e6, 0.1, 220e-6
	if got != want {
		t.Errorf("got %+v, want %+v", got, want)
	}
}

func TestPowerOffAndClip(t *testing.T) {
	b, err := New(fast(t))
	if err != nil {
		t.Fatal(err)
	}
	u := b.units["B8-0147"]
	cause(t, b, "B8-0147 power off") // at time 0
	if v := mean(u.glance("rail-5v", 5, 10)); v > 6.4 {
		t.Errorf("off, the rail shows %g V", v)
	}
	// The day's example: 8.31 V with tau about 41 s.
	v0, v1 := mean(u.glance("reservoir", 5, 10)), mean(u.glance("reservoir", 46, 10))
	near(t, "seconds to fall by e", 41/math.Log(v0/v1), 41, 3)
	cause(t, b, "B8-0147 clip 10 1s")
	if v := mean(u.glance("reservoir", 0.9, 10)); v > 0.3 {
		t.Errorf("clipped for 0.9 s it shows %g V", v)
	}
	low, later := mean(u.glance("reservoir", 1, 10)), mean(u.glance("reservoir", 20, 10))
	if later < low+0.02 {
		t.Errorf("from %g V it came back only to %g V (W-84: absorption)", low, later)
	}
	if v := deviation(u.glance("audio-left", 1, 1000)); v > 1e-3 {
		t.Errorf("off, the tone is %g V", v)
	}
	cause(t, b, "B8-0147 power on")
	near(t, "on again, the rail", mean(u.glance("rail-5v", 1, 100)), 5.017, 2e-3)
}

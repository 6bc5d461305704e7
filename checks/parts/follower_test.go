package parts

import (
	"math"
	"testing"
)

// buffer is a usual video buffer: 5 V, 2 V p-p at the base riding on 1.2 V.
func buffer() Follower {
	return Follower{
		SupplyV: 5, InputOffsetV: 1.2, InputPeakToPeakV: 2, BaseEmitterV: 0.7,
		EmitterOhm: 330, SeriesOhm: 75, LoadOhm: 75, MeanShare: 0.5,
	}
}

func TestFollowerWithAFixedBaseEmitterVoltage(t *testing.T) {
	r := must[FollowerResult](t)(buffer().Calculate())
	near(t, "V-08, 75 ohm into 75 ohm halves", r.GainRatio, 0.5, 1e-9)
	near(t, "level", r.OutputPeakToPeakV, 1, 1e-9)
	near(t, "offset (1.2-0.7)/2", r.OutputOffsetV, 0.25, 1e-9)
	near(t, "high (3.2-0.7)/2", r.OutputHighV, 1.25, 1e-9)
	near(t, "current 2.5/330 + 2.5/150", r.CurrentHighA, 2.5/330+2.5/150, 1e-9)
	near(t, "mean current at 1.5 V", r.CurrentMeanA, 1.5/330+1.5/150, 1e-9)
	near(t, "heat at the mean", r.TransistorW, (5-1.5)*r.CurrentMeanA, 1e-9)
	near(t, "heat at most, at half the supply", r.TransistorMostW, 2.5*(2.5/330+2.5/150), 1e-9)
	near(t, "emitter resistor", r.EmitterResistorW, 2.5*2.5/330, 1e-9)
	near(t, "bottom headroom", r.BottomHeadroomV, 0.5, 1e-9)
	if r.BottomClips || r.TopClips {
		t.Errorf("clips: %+v", r)
	}
}

func TestFollowerACCoupled(t *testing.T) {
	f := buffer()
	f.ACCoupled = true
	// The capacitor holds 1.5 V; with no current the emitter is at
	// 1.5 x 330/480 = 1.03125 V, above the 0.5 V that the sync tip asks for.
	r := must[FollowerResult](t)(f.Calculate())
	near(t, "330 ohm cannot pull 75 + 75 ohm down by 1 V", r.OutputOffsetV, (1.03125-1.5)/2, 1e-9)
	near(t, "headroom", r.BottomHeadroomV, 0.5-1.03125, 1e-9)
	if !r.BottomClips {
		t.Errorf("clips: %+v", r)
	}

	f.SupplyV, f.InputOffsetV, f.EmitterOhm = 12, 3, 150
	r = must[FollowerResult](t)(f.Calculate())
	near(t, "level", r.OutputPeakToPeakV, 1, 1e-9)
	near(t, "the mean is taken off", r.OutputOffsetV, -0.5, 1e-9)
	near(t, "mean current is the emitter resistor's", r.CurrentMeanA, 3.3/150, 1e-9)
	if r.BottomClips {
		t.Errorf("clips: %+v", r)
	}
}

func TestFollowerBottomClipping(t *testing.T) {
	f := buffer()
	tests := []struct {
		offset float64
		ac     bool
		clips  bool
	}{
		{0.701, false, false},
		{0.7, false, true}, // exactly on the limit no current is left
		{0.3, false, true},
		{-1, false, true},
		{1.2, true, true},
		// AC coupled the mean must keep the floor: (in+0.3) x 330/480 < in-0.7.
		{2.91, true, false},
		{2.89, true, true},
	}
	for _, tt := range tests {
		f.InputOffsetV, f.ACCoupled, f.SupplyV = tt.offset, tt.ac, 9
		r := must[FollowerResult](t)(f.Calculate())
		if r.BottomClips != tt.clips {
			t.Errorf("offset %v, AC %v: clips %v, headroom %v", tt.offset, tt.ac, r.BottomClips, r.BottomHeadroomV)
		}
		if tt.clips && r.BottomHeadroomV < 0 && r.OutputPeakToPeakV >= 1 {
			t.Errorf("offset %v, AC %v: clipped but %v V high", tt.offset, tt.ac, r.OutputPeakToPeakV)
		}
	}
	f.SupplyV, f.InputOffsetV = 3, 1.2
	if r := must[FollowerResult](t)(f.Calculate()); !r.TopClips {
		t.Errorf("3.2 V at the base on 3 V: %+v", r)
	}
}

func TestFollowerBaseEmitterVoltageFollowsTheCurrent(t *testing.T) {
	f := buffer()
	f.BaseEmitterAtA, f.CurrentGain, f.SourceOhm = 10e-3, 100, 1e3
	stage := f.stage()
	for _, in := range []float64{0.9, 1.2, 2.2, 3.2} {
		ve := stage.emitter(in)
		ie := ve/330 + ve/150
		back := ve + 0.7 + thermalVolts*math.Log(ie/10e-3) + 1e3*ie/101
		near(t, "the loop closes", back, in, 1e-9)
	}
	r := must[FollowerResult](t)(f.Calculate())
	if r.GainRatio >= 0.5 || r.GainRatio < 0.4 {
		t.Errorf("gain %v, want a little under a half", r.GainRatio)
	}
}

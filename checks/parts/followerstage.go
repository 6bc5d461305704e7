package parts

import "math"

// followerStage is a follower at one moment, its output capacitor (if any)
// charged to capV. open leaves the load off.
type followerStage struct {
	Follower
	capV float64
	open bool
}

// branchOhm is the series resistor and the load.
func (s followerStage) branchOhm() float64 {
	if s.open {
		return math.Inf(1)
	}
	return s.SeriesOhm + s.LoadOhm
}

// floor is the emitter voltage at which the emitter current is 0.
func (s followerStage) floor() float64 {
	return s.capV * parallel(s.EmitterOhm, s.branchOhm()) / s.branchOhm()
}

// current is the emitter current at an emitter voltage.
func (s followerStage) current(emitterV float64) float64 {
	return emitterV/s.EmitterOhm + (emitterV-s.capV)/s.branchOhm()
}

// output is the voltage at the load.
func (s followerStage) output(emitterV float64) float64 {
	return (emitterV - s.capV) * s.LoadOhm / s.branchOhm()
}

// needs is the source voltage that puts the emitter at emitterV; it rises with
// it. -Inf where the current is 0 and V_BE follows the current.
func (s followerStage) needs(emitterV float64) float64 {
	current := math.Max(s.current(emitterV), 0)
	v := emitterV + s.BaseEmitterV
	if s.BaseEmitterAtA > 0 {
		v += thermalVolts * math.Log(current/s.BaseEmitterAtA)
	}
	if s.CurrentGain > 0 {
		v += s.SourceOhm * current / (s.CurrentGain + 1)
	}
	return v
}

// emitter finds the emitter voltage for a source voltage by halving the interval;
// the floor where the transistor is off. The bound above is reached because the
// source voltage needed rises at least as fast as the emitter's.
func (s followerStage) emitter(inputV float64) float64 {
	low := s.floor()
	if s.needs(low) >= inputV {
		return low
	}
	span := 1 + math.Abs(inputV)
	for s.needs(low+span) < inputV {
		span *= 2
	}
	high := low + span
	for range 200 {
		mid := low + (high-low)/2
		if mid == low || mid == high {
			break
		}
		if s.needs(mid) < inputV {
			low = mid
		} else {
			high = mid
		}
	}
	return high
}

// transistor is the heat in the transistor at an emitter voltage, its base
// current's share left out.
func (s followerStage) transistor(emitterV float64) float64 {
	return (s.SupplyV - emitterV) * s.current(emitterV)
}

// transistorMost is the most heat between two emitter voltages. The heat is a
// parabola of the emitter voltage with its top halfway between the floor and the
// supply.
func (s followerStage) transistorMost(low, high float64) float64 {
	top := math.Min(math.Max((s.floor()+s.SupplyV)/2, low), high)
	return s.transistor(top)
}

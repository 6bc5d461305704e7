package supply

import "math"

// Start is how a rail came up.
type Start struct {
	// BeginSeconds is where the record leaves a tenth of the level, from its first
	// sample. ToRailSeconds is from there until the rail is first within reach of
	// its level, SettledSeconds until it enters to stay there for a while: five times as
	// long as it took, or a twentieth of the record.
	BeginSeconds, ToRailSeconds, SettledSeconds float64
	// OvershootVolts is how far it went above its usual top, OvershootPercent the
	// same as a share of the level (above is overshoot, IEEE 181).
	OvershootVolts, OvershootPercent float64
}

// reach is how near to its level a rail must be to be up, as a share of it (W-02:
// 5 % for a linear regulator).
const reach = 0.05

// findStart looks for a start in v: it must begin below a tenth of the level and end
// near it. next is the first sample after it has settled.
func findStart(v []float64, interval float64) (s Start, next int, ok bool) {
	last := v[len(v)-max(1, len(v)/4):]
	level := quantile(last, 0.5)
	if !(level > 0) || v[0] >= dropoutShare*level {
		return s, 0, false
	}
	top, bottom := quantile(last, 1), quantile(last, 0)
	low := min(bottom, (1-reach)*level)
	high := max(top, (1+reach)*level)
	begin, up, settled := -1, -1, 0
	highest := 0.0
	for i, x := range v {
		if begin < 0 && x >= dropoutShare*level {
			begin = i
		}
		if up < 0 && x >= low {
			up = i
		}
		// What happens after it has been in reach for long enough is no start.
		if up >= 0 && i-settled > max(5*(up-begin), len(v)/20) {
			break
		}
		if x < low || x > high {
			settled = i + 1
		}
		highest = max(highest, x)
	}
	if up < 0 || settled >= len(v) {
		return s, 0, false
	}
	over := max(0, highest-top)
	return Start{
		BeginSeconds: float64(begin) * interval, ToRailSeconds: float64(up-begin) * interval,
		SettledSeconds: float64(max(settled, up)-begin) * interval,
		OvershootVolts: over, OvershootPercent: 100 * over / level,
	}, max(settled, up), true
}

// Step is what a step of the load did to a rail.
type Step struct {
	// BeginSeconds is where the rail leaves its level, from the first sample.
	BeginSeconds float64
	// SagVolts is the largest departure from the level before, below 0 for one
	// upwards when a load goes; SagPercent the same as a share of that level.
	SagVolts, SagPercent float64
	// RecoverySeconds is from the begin until the rail last enters the band about
	// its level after the step; ChangeVolts is that level less the one before.
	RecoverySeconds, ChangeVolts float64
}

// AnalyseLoadStep measures a record in volts at an interval in seconds that begins
// steady, holds one step of the load, and ends steady. bandVolts is half the width of
// the band that counts as recovered; 0 takes a hundredth of the level. ok is false
// where nothing departs from the level before by more than the band and the noise.
func AnalyseLoadStep(volts []float64, interval, bandVolts float64) (s Step, ok bool) {
	if len(volts) < 20 || !(interval > 0) || !allFinite(volts) {
		return Step{}, false
	}
	before := quantile(volts[:len(volts)/10], 0.5)
	after := quantile(volts[len(volts)-len(volts)/4:], 0.5)
	if !(bandVolts > 0) {
		bandVolts = math.Abs(before) / 100
	}
	spread := max(4*noiseOf(volts), quantile(volts[:len(volts)/10], 1)-quantile(volts[:len(volts)/10], 0))
	far, most := 0, 0.0
	for i, v := range volts {
		if d := math.Abs(v - before); d > most {
			far, most = i, d
		}
	}
	if !(most > max(bandVolts, spread)) {
		return Step{}, false
	}
	begin := far
	for begin > 0 && math.Abs(volts[begin-1]-before) > spread {
		begin--
	}
	settled := begin
	for i := begin; i < len(volts); i++ {
		if math.Abs(volts[i]-after) > bandVolts {
			settled = i + 1
		}
	}
	sag := before - volts[far]
	return Step{
		BeginSeconds: float64(begin) * interval, SagVolts: sag, SagPercent: 100 * sag / math.Abs(before),
		RecoverySeconds: float64(settled-begin) * interval, ChangeVolts: after - before,
	}, true
}

func allFinite(v []float64) bool {
	for _, x := range v {
		if math.IsNaN(x) || math.IsInf(x, 0) {
			return false
		}
	}
	return true
}

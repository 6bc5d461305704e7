package supply

import "math"

// Noise must not count as ripple: before a cycle's highest and lowest are taken,
// neighbours are averaged until noise is down to quietEnough of its height, but at
// most so far that leastPerCycle means of each cycle remain.
const (
	quietEnough   = 0.003
	leastPerCycle = 100
)

// ripple is measured cycle by cycle: the mean of each cycle's peak to peak and rms,
// with their scatter as uncertainty. Without a frequency it is that of all samples.
func (r *Result) ripple(volts []float64, interval, hertz float64) {
	noise := noiseOf(volts)
	samples := 1 / (hertz * interval)
	if !(samples >= 4) || float64(len(volts)) < samples {
		low, high := quantile(volts, 0), quantile(volts, 1)
		r.DCVolts = Measured{Value: mean(volts), U: math.Sqrt(variance(volts) / float64(len(volts)))}
		r.TroughVolts = Measured{Value: low, U: noise}
		r.RipplePeakToPeakVolts = Measured{Value: high - low, U: noise * math.Sqrt2}
		r.RippleRMSVolts = Measured{Value: math.Sqrt(variance(volts)), U: math.Sqrt(variance(volts) / float64(2*len(volts)))}
		return
	}
	var levels, peaks, troughs, squares []float64
	height := quantile(volts, 1) - quantile(volts, 0)
	smoothing := int(min(max(1, math.Pow(noise/(quietEnough*height), 2)), max(1, samples/leastPerCycle)))
	for k := 0; ; k++ {
		from, to := int(float64(k)*samples+0.5), int(float64(k+1)*samples+0.5)
		if to > len(volts) {
			break
		}
		means, each := blocks(volts[from:to], (to-from)/smoothing)
		levels = append(levels, mean(volts[from:to]))
		peaks = append(peaks, quantile(means, 1)-quantile(means, 0))
		troughs = append(troughs, quantile(means, 0))
		squares = append(squares, max(0, variance(means)-noise*noise/float64(each)))
	}
	r.DCVolts, r.RipplePeakToPeakVolts, r.TroughVolts = measured(levels), measured(peaks), measured(troughs)
	rms := measured(squares)
	r.RippleRMSVolts = Measured{Value: math.Sqrt(rms.Value), U: rms.U / (2 * math.Sqrt(rms.Value))}
}

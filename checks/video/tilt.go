package video

import "math"

// measureTilt fills in how much a bright flat part sags over the length of a line,
// in percent of its height above blanking: positive where it falls. It needs a flat
// of 8 us or more in the upper half of the picture.
func (a *analysis) measureTilt() {
	var sum, weight float64
	var each []float64
	active := a.nominal.periods[0] - a.nominal.activeFrom - a.nominal.activeTo
	for _, f := range a.flats {
		if f.coloured || f.seconds() < 8*microsecond || a.flatClipped(f) ||
			f.relative < 0.5*a.scale()*a.nominal.whiteVolts {
			continue
		}
		share := -100 * f.slope * active / f.relative
		w := f.seconds() * f.seconds() * f.seconds()
		sum, weight = sum+w*share, weight+w
		each = append(each, share)
	}
	if len(each) == 0 {
		return
	}
	// The slope of n blocks in noise is known to sigma sqrt(12/n)/length.
	longest := math.Cbrt(weight / float64(len(each)))
	blocks := longest / a.scan.dt
	u := 100 * a.blockSigma() * math.Sqrt(12/blocks) * active / longest / (a.scale() * a.nominal.whiteVolts)
	m := meanOf(each, u)
	a.result.TiltPercent = Measured{Value: sum / weight, U: math.Max(m.U, 0.1)}
}

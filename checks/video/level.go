package video

import (
	"cmp"
	"math"
	"slices"
)

// measureSync fills in sync tip, blanking and sync amplitude, line by line so that
// hum does not widen the sync. Lines whose sync is far from the others' are left
// out.
func (a *analysis) measureSync() {
	var depths, tips, porches []float64
	for _, l := range a.lines {
		if !math.IsNaN(l.porch - l.tip) {
			depths = append(depths, l.porch-l.tip)
		}
	}
	typical := median(depths)
	depths = depths[:0]
	for _, l := range a.lines {
		if math.Abs(l.porch-l.tip-typical) <= 0.2*math.Abs(typical) {
			depths = append(depths, l.porch-l.tip)
			tips = append(tips, l.tip)
			porches = append(porches, l.porch)
		}
	}
	if len(depths) > 0 {
		a.depth = mean(depths)
	}
	samples := float64(len(depths)) * microsecond / a.record.SampleIntervalSeconds
	r := &a.result
	r.SyncTipVolts = levelOf(tips, a.levelU(samples))
	r.BlankingVolts = levelOf(porches, a.levelU(samples))
	r.SyncVolts = levelOf(depths, math.Sqrt2*a.levelU(samples))
	r.PeakToPeakVolts = Measured{
		Value: a.scan.high - a.scan.low,
		U:     math.Hypot(a.sigma, a.step/math.Sqrt(6)),
	}
}

// levelOf is the mean of v with the larger of its spread and u.
func levelOf(v []float64, u float64) Measured {
	m := meanOf(v, 0)
	m.U = math.Max(m.U, u)
	return m
}

// measureLevels fills in black, white and what follows from them.
func (a *analysis) measureLevels() {
	r := &a.result
	if !r.SyncVolts.OK() {
		return
	}
	levels := a.pictureLevels()
	if a.clip.low && a.atClip(r.SyncTipVolts.Value, a.scan.low) {
		r.SyncTipVolts, r.SyncVolts = notMeasured(), notMeasured()
	}
	black := a.black(levels)
	if black.OK() {
		r.BlackVolts = r.BlankingVolts.plus(black)
	}
	white := a.white(levels)
	if white.OK() && !(a.clip.high && a.atClip(r.BlankingVolts.Value+white.Value, a.scan.high)) {
		r.PictureVolts = white
		r.WhiteVolts = r.BlankingVolts.plus(white)
		r.LumaPeakToPeakVolts = white.plus(r.SyncVolts)
		if black.OK() {
			r.BlackToWhiteVolts = white.minus(black)
		}
	}
	a.measureShare(black)
}

// measureShare compares the level with nominal, and scales what black to white
// should be. A black well above blanking has set-up in it.
func (a *analysis) measureShare(black Measured) {
	r := &a.result
	switch {
	case r.System == "" && a.options.System == "":
		return // nominal of which system?
	case r.LumaPeakToPeakVolts.OK():
		r.LevelShare = r.LumaPeakToPeakVolts.times(1 / a.nominal.lumaVolts())
	case r.SyncVolts.OK():
		r.LevelShare = r.SyncVolts.times(1 / a.nominal.syncVolts)
	default:
		return
	}
	expected := a.nominal.whiteVolts
	if r.System == System525 && black.OK() && black.Value > setup/2*a.scale() {
		expected -= setup
	}
	r.ExpectedBlackToWhiteVolts = r.LevelShare.Value * expected
}

// setup is black above blanking in 525/60, 7.5 IRE; none in 625/50 and in Japan.
const setup = 7.5 / 140

// pictureLevel is a level, relative to blanking, on which the picture stays.
type pictureLevel struct{ volts, seconds float64 }

// pictureLevels lists the levels of the flats that carry no colour, from the
// lowest. Lines that are blank all along (field blanking) are left out unless all
// are.
func (a *analysis) pictureLevels() []pictureLevel {
	var all, busy []pictureLevel
	near := 0.03 * a.scale() * a.nominal.whiteVolts
	for i := 0; i < len(a.flats); {
		j := i
		blank := true
		for j < len(a.flats) && a.flats[j].region == a.flats[i].region {
			f := a.flats[j]
			blank = blank && !f.coloured && (math.Abs(f.relative) < near || f.relative < -a.depth/2)
			j++
		}
		l := a.lineOf(int(a.flats[i].region))
		activeFrom, activeTo := l.start+a.nominal.activeFrom, l.end-a.nominal.activeTo
		for _, f := range a.flats[i:j] {
			from, to := math.Max(f.from, activeFrom), math.Min(f.to, activeTo)
			// Equalising pulses in the middle of a half line are no picture.
			if to-from < 0.6*microsecond || f.coloured || f.relative < -a.depth/2 {
				continue
			}
			l := pictureLevel{volts: f.relative, seconds: to - from}
			all = append(all, l)
			if !blank || a.flats[i].broken {
				busy = append(busy, l)
			}
		}
		i = j
	}
	if len(busy) > 0 {
		all = busy
	}
	slices.SortFunc(all, func(x, y pictureLevel) int { return cmp.Compare(x.volts, y.volts) })
	return all
}

// outermost returns the first level of levels, in their order, on which the
// picture stays long enough, averaged with all that are within a tolerance of it.
func (a *analysis) outermost(levels []pictureLevel) Measured {
	tolerance := 0.025*a.scale()*a.nominal.whiteVolts + 2*a.blockSigma()
	var total float64
	for _, l := range levels {
		total += l.seconds
	}
	enough := math.Max(0.7*microsecond, 0.002*total)
	for i, l := range levels {
		var seconds, sum float64
		for _, o := range levels[i:] {
			if math.Abs(o.volts-l.volts) > tolerance {
				break
			}
			seconds += o.seconds
			sum += o.seconds * o.volts
		}
		if seconds >= enough {
			u := math.Sqrt2 * a.levelU(seconds/a.record.SampleIntervalSeconds)
			return Measured{Value: sum / seconds, U: u}
		}
	}
	return notMeasured()
}

// black is the lowest level, relative to blanking, if it is near enough to blanking
// or set-up to be black rather than a dark grey.
func (a *analysis) black(levels []pictureLevel) Measured {
	m := a.outermost(levels)
	share := m.Value / (a.scale() * a.nominal.whiteVolts)
	if !(share > -0.08 && share < 0.13) {
		return notMeasured()
	}
	return m
}

// white is the highest level, relative to blanking, if it is what sync lets expect,
// or nominal, or more: a lower one may be a light grey, unless the picture is known
// to hold white.
func (a *analysis) white(levels []pictureLevel) Measured {
	down := slices.Clone(levels)
	slices.Reverse(down)
	m := a.outermost(down)
	if !m.OK() || m.Value < 0.2*a.scale()*a.nominal.whiteVolts {
		return notMeasured()
	}
	ofSync := m.Value / (a.scale() * a.nominal.whiteVolts)
	ofNominal := m.Value / a.nominal.whiteVolts
	if a.options.PictureHasWhite || ofSync >= 0.93 && ofSync <= 1.4 || math.Abs(ofNominal-1) < 0.06 && ofSync > 1 {
		return m
	}
	return notMeasured()
}

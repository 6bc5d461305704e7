package supply

import (
	"fmt"
	"strconv"

	"soakline/checks"
	"soakline/device"
)

// judge says what the figures mean. seconds is the length of the stretch measured.
func (r *Result) judge(o Options, found lines, seconds float64) {
	r.judgeLevel(o)
	r.judgeRipple(o, found, seconds)
	r.judgeDips(o)
	r.judgeStart(o)
}

func (r *Result) judgeLevel(o Options) {
	level := r.DCVolts.Value
	if nominal := o.NominalVolts; nominal > 0 && level < dropoutShare*nominal {
		r.find(codeNoRail, checks.Outside, volt(level))
	}
	if low := o.Limits.LowVolts; low > 0 && level < low {
		r.find(codeRailLow, checks.Outside, volt(level), volt(low))
	}
	if high := o.Limits.HighVolts; high > 0 && level > high {
		r.find(codeRailHigh, checks.Outside, volt(level), volt(high))
	}
	if allowed := o.Limits.RipplePeakToPeakVolts; allowed > 0 && r.RipplePeakToPeakVolts.Value > allowed {
		r.find(codeRippleHigh, checks.Outside, volt(r.RipplePeakToPeakVolts.Value), volt(allowed))
	}
	if needed := o.Limits.TroughVolts; needed > 0 && r.TroughVolts.Value < needed {
		r.find(codeTroughLow, checks.Outside, volt(r.TroughVolts.Value), volt(needed))
	}
}

// judgeRipple says what the ripple's frequency tells about the rectifier: twice the
// mains is full wave, once a leg that is out.
func (r *Result) judgeRipple(o Options, found lines, seconds float64) {
	mains := o.MainsHertz
	if mains == 0 {
		mains = 50
	}
	switch {
	case seconds*mains < leastPeriods:
		r.find(codeShort, checks.Borderline, checks.Figure(rounded(seconds), 0, device.Second))
	case found.hertz == 0:
	case found.once >= legOutFrom*found.twice:
		r.HalfWave = true
		if !o.HalfWave {
			r.find(codeLegOut, checks.Outside, hertz(r.RippleHertz.Value))
		}
	case found.once >= unevenFrom*found.twice:
		r.FullWave = true
		r.find(codeUneven, checks.Borderline, checks.Figure(rounded(found.once/found.twice), 0, device.Ratio))
	default:
		r.FullWave = true
		r.find(codeFullWave, checks.Within, hertz(r.RippleHertz.Value))
	}
}

func (r *Result) judgeDips(o Options) {
	for _, kind := range []DipKind{Dropout, BrownOut} {
		times, lowest, first := 0, 0.0, Dip{}
		for _, d := range r.Dips {
			if d.Kind != kind || d.Seconds() < o.Limits.BrownOutShortestSecond {
				continue
			}
			if times == 0 {
				first, lowest = d, d.LowestVolts
			}
			times++
			lowest = min(lowest, d.LowestVolts)
		}
		if times > 0 {
			code := checks.FindingCode(codeBrownOut)
			if kind == Dropout {
				code = codeDropout
			}
			r.find(code, checks.Outside, timesText(times), checks.Figure(rounded(first.BeginSeconds), 0, device.Second), volt(lowest))
		}
	}
}

func (r *Result) judgeStart(o Options) {
	if r.Start == nil {
		return
	}
	if allowed := o.Limits.StartSeconds; allowed > 0 && r.Start.ToRailSeconds > allowed {
		r.find(codeStartSlow, checks.Outside, checks.Figure(rounded(r.Start.ToRailSeconds), 0, device.Second),
			checks.Figure(allowed, 0, device.Second))
	}
	if allowed := o.Limits.StartOvershootPercent; allowed > 0 && r.Start.OvershootPercent > allowed {
		r.find(codeStartOver, checks.Outside, checks.Figure(rounded(r.Start.OvershootPercent/100), 0, device.Ratio),
			checks.Figure(allowed/100, 0, device.Ratio))
	}
}

// rounded keeps three significant digits, for figures in texts.
func rounded(x float64) float64 {
	y, err := strconv.ParseFloat(strconv.FormatFloat(x, 'g', 3, 64), 64)
	if err != nil {
		return x
	}
	return y
}

func volt(x float64) string { return checks.Figure(rounded(x), 0, device.Volt) }

func hertz(x float64) string { return checks.Figure(rounded(x), 0, device.Hertz) }

func timesText(n int) string {
	if n == 1 {
		return "once"
	}
	return fmt.Sprintf("%d times", n)
}

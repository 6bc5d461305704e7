package audio

import (
	"fmt"
	"math"

	"soakline/checks"
	"soakline/device"
)

// diagnose says what the figures mean, in the order of the table of findings.
func (a *analysis) diagnose() {
	r := &a.result
	samples := len(a.record.Channels[0].Volts)
	if samples < leastSamples {
		a.find(codeTooShort, checks.Borderline, samples)
	}
	if r.Relative {
		a.find(codeNoVolts, checks.Within)
	}
	a.diagnoseSilence()
	judged := r.Channels
	if a.options.FirstOnly {
		judged = judged[:1]
	}
	for _, c := range judged {
		a.diagnoseRecord(c)
	}
	a.diagnoseBalance()
	for _, c := range judged {
		if !a.silent(c) {
			a.diagnoseLevel(c)
			a.diagnoseHum(c)
			a.diagnoseNoise(c)
			a.diagnoseDisturbances(c)
		}
	}
	if r.NoiseBandHertz < 0.9*bandHigh {
		a.find(codeNarrowBand, checks.Within, checks.Figure(r.NoiseBandHertz, 0, device.Hertz))
	}
	if samples >= leastSamples && math.IsNaN(r.Channels[0].MainsHertz) && r.Channels[0].Spectrum.BinHertz > 0 {
		a.find(codeHumNotKnown, checks.Within, checks.Figure(r.Seconds, 0, device.Second))
	}
}

// silentDecibels is how far below the range's top, or below 1 V, a channel counts
// as silent; 60 dB below the other channel does as well.
const silentDecibels = 80

// silent tells whether a channel carries nothing.
func (a *analysis) silent(c ChannelResult) bool {
	return c.RMSVolts.Value < math.Pow(10, -silentDecibels/20.0) || c.RMSVolts.Value < c.StepVolts
}

// diagnoseSilence tells all silent from one silent.
func (a *analysis) diagnoseSilence() {
	r := &a.result
	var quiet, loud []ChannelResult
	for _, c := range r.Channels {
		if a.silent(c) {
			quiet = append(quiet, c)
		} else {
			loud = append(loud, c)
		}
	}
	switch {
	case len(loud) == 0:
		what := fmt.Sprintf("%s rms", a.volts(quiet[0].RMSVolts))
		if l := a.options.Limits.DCVolts; !r.Relative && math.Abs(quiet[0].DCVolts.Value) > math.Max(l, 1e-3) {
			what = fmt.Sprintf("DC of %s, and %s rms besides", a.volts(quiet[0].DCVolts), a.volts(quiet[0].RMSVolts))
		}
		a.find(codeSilent, checks.Outside, names(quiet), what)
	case len(quiet) > 0:
		a.find(codeOneSilent, checks.Outside, names(loud), names(quiet), a.volts(quiet[0].RMSVolts))
	}
	for _, c := range loud {
		if !c.ToneHertz.OK() && c.HumVolts.Value*c.HumVolts.Value > c.acSquare/2 {
			a.find(codeHumOnly, checks.Outside, c.Name, a.volts(c.HumVolts), hertz(strongestHum(c).Hertz))
		}
	}
}

// names lists channels for a sentence.
func names(channels []ChannelResult) string {
	text := channels[0].Name
	for _, c := range channels[1:] {
		text += " and " + c.Name
	}
	return text
}

// diagnoseRecord says how the record itself limits what can be said.
func (a *analysis) diagnoseRecord(c ChannelResult) {
	if c.Clipped > 0 {
		a.find(codeClipped, checks.Outside, c.Clipped, c.Name)
	}
	if a.silent(c) {
		return
	}
	// White noise of step/sqrt(12) is what rounding adds; a tenth above is still it.
	if c.NoiseVolts.OK() && c.StepVolts > 0 && c.NoiseVolts.Value < 1.1*c.StepVolts/math.Sqrt(12) {
		a.find(codeFewCodes, checks.Within, c.Name, a.volts(c.NoiseVolts), a.volts(Measured{Value: c.StepVolts}))
	}
	if !c.ToneHertz.OK() {
		a.find(codeNoTone, checks.Within, c.Name)
	}
}

// diagnoseBalance judges two channels that should carry the same.
func (a *analysis) diagnoseBalance() {
	b, l := a.result.Balance, a.options.Limits
	if b.Identical {
		a.find(codeIdentical, checks.Borderline)
	}
	switch r := b.Correlation; {
	case !r.OK() || l.AlikeAtLeast == 0:
	case r.Value <= -l.AlikeAtLeast:
		a.find(codeInverted, checks.Outside, r.Value)
	case r.Value < l.AlikeAtLeast:
		a.find(codeDifferent, checks.Borderline, r.Value)
	}
	if l.BalancePassDecibels == 0 || !b.Decibels.OK() {
		return
	}
	apart := math.Abs(b.Decibels.Value)
	allowed := checks.Figure(l.BalancePassDecibels, 0, device.Unit{})
	switch {
	case l.BalanceFailDecibels > 0 && apart > l.BalanceFailDecibels:
		a.find(codeUnbalanced, checks.Outside, signedDecibels(b.Decibels), allowed)
	case apart > l.BalancePassDecibels:
		a.find(codeUnbalanced, checks.Borderline, signedDecibels(b.Decibels), allowed)
	}
}

// diagnoseLevel judges level, DC and distortion.
func (a *analysis) diagnoseLevel(c ChannelResult) {
	l, level := a.options.Limits, c.LevelVolts()
	if !a.result.Relative {
		if l.HighVolts > 0 && level.Value > l.HighVolts {
			a.find(codeLevelHigh, checks.Outside, c.Name, a.volts(level), a.volts(Measured{Value: l.HighVolts}))
		}
		if l.LowVolts > 0 && level.Value < l.LowVolts {
			a.find(codeLevelLow, checks.Outside, c.Name, a.volts(level), a.volts(Measured{Value: l.LowVolts}))
		}
		if l.DCVolts > 0 && c.Spectrum.Segments > 0 && math.Abs(c.DCVolts.Value) > l.DCVolts {
			a.find(codeOffset, checks.Outside, c.Name, a.volts(c.DCVolts), a.volts(Measured{Value: l.DCVolts}))
		}
	}
	if l.DistortionPercent > 0 && c.THDPercent.Value > l.DistortionPercent {
		a.find(codeDistorted, checks.Borderline, c.Name, share(c.THDPercent), share(Measured{Value: l.DistortionPercent}))
	}
}

// strongestHum is the highest line of hum.
func strongestHum(c ChannelResult) HumLine {
	best := HumLine{Hertz: notMeasured(), Volts: notMeasured()}
	for _, h := range c.Hum {
		if !best.Volts.OK() || h.Volts.Value > best.Volts.Value {
			best = h
		}
	}
	return best
}

// diagnoseHum judges all hum lines together against the tone, or against 0 dBV, and
// says where the strongest usually comes from.
func (a *analysis) diagnoseHum(c ChannelResult) {
	allowed := a.options.Limits.HumDecibels
	if allowed == 0 || len(c.Hum) == 0 || !c.ToneHertz.OK() && a.result.Relative {
		return
	}
	reference, against := Measured{Value: 1}, "0 dBV"
	if c.ToneVolts.OK() {
		reference, against = c.ToneVolts, "the tone"
	}
	below := SignalToNoise(reference, c.HumVolts)
	if !below.OK() || below.Value >= allowed {
		return
	}
	state := checks.Borderline
	if below.Value < allowed-20 {
		state = checks.Outside
	}
	worst := strongestHum(c)
	f := a.find(codeHum, state, c.Name, a.volts(c.HumVolts), fmt.Sprintf("%.1f dB below %s", below.Value, against),
		hertz(worst.Hertz), fmt.Sprintf("%.0f dB", allowed))
	f.Advice = humAdvice(worst.Harmonic)
}

// humAdvice says where a line usually comes from (A-23, common practice).
func humAdvice(harmonic int) string {
	switch {
	case harmonic == 1:
		return "The mains frequency itself points to a ground loop or a transformer near the lead: try another socket and another way for the lead."
	case harmonic == 2:
		return "Twice the mains frequency is ripple of the supply: check the reservoir capacitor and what the regulator leaves."
	case harmonic%2 == 1:
		return "An odd multiple of the mains frequency points to the field of a transformer: move the supply and the leads apart."
	default:
		return "Check the supply's ripple first, then the ground of the lead."
	}
}

// diagnoseNoise judges what is left against the tone.
func (a *analysis) diagnoseNoise(c ChannelResult) {
	l := a.options.Limits
	if !c.SNRDecibels.OK() || l.SignalToNoiseGoodDecibels == 0 || c.SNRDecibels.Value >= l.SignalToNoiseGoodDecibels {
		return
	}
	state := checks.Borderline
	if c.SNRDecibels.Value < l.SignalToNoiseFaultDecibels {
		state = checks.Outside
	}
	a.find(codeNoisy, state, c.Name, a.volts(c.NoiseVolts), fmt.Sprintf("%.1f", c.SNRDecibels.Value), fmt.Sprintf("%.0f", l.SignalToNoiseGoodDecibels))
}

// diagnoseDisturbances tells of clicks and dropouts.
func (a *analysis) diagnoseDisturbances(c ChannelResult) {
	if len(c.Clicks) > 0 {
		highest := 0.0
		for _, d := range c.Clicks {
			highest = max(highest, d.Volts)
		}
		a.find(codeClicks, checks.Borderline, len(c.Clicks), c.Name, seconds(c.Clicks[0].AtSeconds), a.volts(Measured{Value: highest}))
	}
	if len(c.Dropouts) > 0 {
		a.find(codeDropouts, checks.Outside, c.Name, len(c.Dropouts), seconds(c.Dropouts[0].AtSeconds), seconds(c.Dropouts[0].Seconds))
	}
}

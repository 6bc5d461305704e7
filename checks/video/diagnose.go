package video

import (
	"cmp"
	"fmt"
	"math"
	"slices"

	"soakline/checks"
	"soakline/device"
)

// diagnose says what the figures mean.
func (a *analysis) diagnose() {
	a.diagnoseSamples()
	a.diagnoseClipping()
	if len(a.lines) == 0 || a.has(codeInverted) {
		a.diagnoseNoSync()
	} else {
		a.diagnoseSetUp()
		a.diagnoseLevel()
		a.diagnoseParts()
		a.diagnoseEdges()
		a.diagnoseDisturbance()
	}
	a.diagnoseTiming()
	order := findings.Codes()
	slices.SortStableFunc(a.result.Findings, func(x, y checks.Finding) int {
		return cmp.Compare(slices.Index(order, x.Code), slices.Index(order, y.Code))
	})
}

func (a *analysis) has(code checks.FindingCode) bool {
	return slices.ContainsFunc(a.result.Findings, func(f checks.Finding) bool { return f.Code == code })
}

// beyond says how a figure stands that should be at most limit: outside by more
// than its expanded uncertainty, borderline, or within; a limit of 0 and a figure
// that was not measured are within.
func beyond(m Measured, limit float64) checks.State {
	switch {
	case limit == 0 || !(m.Value > limit):
		return checks.Within
	case m.Value-limit > checks.CoverageFactor*m.U:
		return outside
	}
	return borderline
}

func volts(m Measured) string   { return checks.Figure(m.Value, m.U, device.Volt) }
func seconds(m Measured) string { return checks.Figure(m.Value, m.U, device.Second) }
func percent(m Measured) string { return checks.Figure(m.Value/100, m.U/100, device.Ratio) }

// plain prints a figure without an uncertainty, such as a limit.
func plain(x float64, unit device.Unit) string { return checks.Figure(x, 0, unit) }

func (a *analysis) diagnoseSamples() {
	dt := a.record.SampleIntervalSeconds
	switch {
	case a.scan.dt > 0.3*microsecond:
		a.find(codeTooFewSamples, borderline, fmt.Sprintf("at one every %s line sync can't be seen", plain(dt, device.Second)))
	case a.record.seconds() < 60*microsecond:
		a.find(codeTooFewSamples, borderline, fmt.Sprintf("the record is %s long, a line is 64 us", plain(a.record.seconds(), device.Second)))
	case dt > aberrationInterval:
		a.find(codeTooFewSamples, borderline, fmt.Sprintf("at %.4g MS/s overshoot and fast edges can't be measured", 1e-6/dt))
	}
}

func (a *analysis) diagnoseClipping() {
	r := a.result
	switch {
	case a.clip.low && a.clip.high:
		a.find(codeClipped, borderline, "both ends", volts(Measured{a.scan.low, 0})+" and "+volts(Measured{a.scan.high, 0}))
	case a.clip.low:
		a.find(codeClipped, borderline, "the bottom", fmt.Sprintf("%d samples lie on %s", a.clip.atLow, plain(a.scan.low, device.Volt)))
	case a.clip.high:
		lost := ""
		if len(a.lines) > 0 && !r.WhiteVolts.OK() {
			lost = ", and white can't be measured"
		}
		a.find(codeClipped, borderline, "the top", fmt.Sprintf("%d samples lie on %s%s", a.clip.atHigh, plain(a.scan.high, device.Volt), lost))
	}
}

func (a *analysis) diagnoseNoSync() {
	why := fmt.Sprintf("the record runs from %s to %s without pulses that come once per line",
		plain(a.scan.low, device.Volt), plain(a.scan.high, device.Volt))
	if a.scan.low == a.scan.high {
		why = fmt.Sprintf("every sample is %s", plain(a.scan.low, device.Volt))
	}
	a.find(codeNoSync, outside, why)
}

// diagnoseSetUp says what is wrong with how the signal is measured.
func (a *analysis) diagnoseSetUp() {
	r, l := a.result, a.options.Limits
	if r.Coupling == CouplingAC {
		a.find(codeACCoupled, borderline, volts(r.BlankingVolts))
	}
	if a.options.System != "" && r.System != "" && r.System != a.options.System {
		a.find(codeWrongSystem, outside, r.System, seconds(r.LinePeriodSeconds), a.options.System)
	}
	share := r.LevelShare.Value
	sync := r.SyncVolts.Value / a.nominal.syncVolts
	// Termination moves all of the signal: sync must tell the same as the whole.
	if r.LumaPeakToPeakVolts.OK() && !(math.Abs(sync/share-1) < 0.2) {
		return
	}
	evidence := []any{share, volts(r.SyncVolts), plain(a.nominal.syncVolts, device.Volt)}
	switch {
	case l.UnterminatedFrom > 0 && share >= l.UnterminatedFrom && share <= l.UnterminatedTo:
		a.find(codeUnterminated, outside, evidence...)
	case l.DoubleTerminatedFrom > 0 && share >= l.DoubleTerminatedFrom && share <= l.DoubleTerminatedTo:
		a.find(codeDoubleTerminated, outside, evidence...)
	}
}

// diagnoseLevel judges the level and, on a DC-coupled input, blanking.
func (a *analysis) diagnoseLevel() {
	r, l := a.result, a.options.Limits
	off := Measured{Value: math.Abs(r.LevelShare.Value - 1), U: r.LevelShare.U}
	if !r.LumaPeakToPeakVolts.OK() {
		// From sync alone: how sync is to picture varies from console to console.
		off.U = math.Hypot(off.U, 0.02)
	}
	if state := beyond(off, l.LevelShare); state != checks.Within {
		code := codeLevelHigh
		if r.LevelShare.Value < 1 {
			code = codeLevelLow
		}
		f := a.find(code, state, a.levelText())
		if advice := factorAdvice(r.LevelShare.Value); advice != "" {
			f.Advice = advice
		}
	}
	blanking := Measured{Value: math.Abs(r.BlankingVolts.Value), U: r.BlankingVolts.U}
	if state := beyond(blanking, l.BlankingVolts); state != checks.Within && r.Coupling != CouplingAC {
		hint := ""
		if r.Coupling == "" {
			hint = "; if the input is AC-coupled this says nothing"
		}
		a.find(codeOffset, state, volts(r.BlankingVolts), plain(l.BlankingVolts, device.Volt), hint)
	}
}

// levelText gives the level with what black to white should be beside it.
func (a *analysis) levelText() string {
	r := a.result
	off := 100 * (r.LevelShare.Value - 1)
	side := "high"
	if off < 0 {
		side = "low"
	}
	expected := plain(math.Round(1e3*r.ExpectedBlackToWhiteVolts)/1e3, device.Volt)
	if !r.LumaPeakToPeakVolts.OK() {
		return fmt.Sprintf("The level is about %.0f %% %s by its sync of %s (nominal %s); there is no white in the picture to tell it by. Black to white should be %s at this level.",
			math.Abs(off), side, volts(r.SyncVolts), plain(a.nominal.syncVolts, device.Volt), expected)
	}
	text := fmt.Sprintf("The level is %.0f %% %s: sync tip to white is %s, nominal %s. Black to white should be %s at this level",
		math.Abs(off), side, volts(r.LumaPeakToPeakVolts), plain(a.nominal.lumaVolts(), device.Volt), expected)
	if !r.BlackToWhiteVolts.OK() {
		return text + "."
	}
	return fmt.Sprintf("%s, and is %s.", text, volts(r.BlackToWhiteVolts))
}

// factorAdvice is advice for levels that a wrong setting or load explains better
// than the unit; empty for all others. 0.8 is a 50 ohm load: 2 x 50/(50 + 75).
func factorAdvice(share float64) string {
	switch {
	case share >= 8 && share <= 12 || share >= 16 && share <= 24:
		return "This is about ten times what it should be: check the probe factor set on the scope against the probe."
	case share >= 0.08 && share <= 0.12 || share >= 0.16 && share <= 0.24:
		return "This is about a tenth of what it should be: check the probe factor set on the scope against the probe."
	case share >= 0.78 && share <= 0.82:
		return "A 50 ohm load gives just this level: check that the terminator is a 75 ohm one."
	}
	return ""
}

// diagnoseParts judges what the level is made of.
func (a *analysis) diagnoseParts() {
	r, l := a.result, a.options.Limits
	share := r.SyncVolts.times(1 / a.nominal.syncVolts)
	if state := beyond(share.times(-1), -l.SyncShareAtLeast); l.SyncShareAtLeast > 0 && state != checks.Within {
		a.find(codeSyncLow, state, volts(r.SyncVolts), plain(a.nominal.syncVolts, device.Volt), 100*share.Value)
	}
	expected := r.SyncVolts.times(a.nominal.whiteOverSync())
	ratio := r.PictureVolts.times(1 / expected.Value)
	if state := beyond(ratio.times(-1), -l.WhiteShareAtLeast); l.WhiteShareAtLeast > 0 && state != checks.Within {
		a.find(codeWhiteCompressed, state, volts(r.PictureVolts), volts(expected))
	}
	a.diagnoseBurst()
	tilt := Measured{Value: math.Abs(r.TiltPercent.Value), U: r.TiltPercent.U}
	if state := beyond(tilt, l.TiltPercent); state != checks.Within {
		a.find(codeTilt, state, percent(r.TiltPercent), plain(l.TiltPercent/100, device.Ratio))
	}
}

func (a *analysis) diagnoseBurst() {
	r, l := a.result, a.options.Limits
	if l.BurstShareAtLeast == 0 || nominal625.subcarrierHertz > highestShare*a.record.rate() {
		return
	}
	if !r.BurstPeakToPeakVolts.OK() {
		if a.record.seconds() > 70*microsecond || len(a.lines) > 1 {
			a.find(codeNoBurst, borderline, "nothing near 3.58 or 4.43 MHz stands out of the noise there")
		}
		return
	}
	share := r.BurstPeakToPeakVolts.times(1 / a.nominal.burstVolts)
	if state := beyond(share.times(-1), -l.BurstShareAtLeast); state != checks.Within {
		a.find(codeBurstLow, state, volts(r.BurstPeakToPeakVolts), 100*share.Value)
	}
}

func (a *analysis) diagnoseEdges() {
	r, l := a.result, a.options.Limits
	for _, side := range []struct {
		figure Measured
		limit  float64
		where  string
	}{
		{r.OvershootPercent, l.OvershootPercent, " after a rising edge"},
		{r.UndershootPercent, l.UndershootPercent, " after a falling edge, downwards"},
	} {
		if state := beyond(side.figure, side.limit); state != checks.Within && !a.has(codeOvershoot) {
			a.find(codeOvershoot, state, percent(side.figure), plain(side.limit/100, device.Ratio), side.where)
		}
	}
	slower := r.RiseSeconds
	if !slower.OK() || r.FallSeconds.Value > slower.Value {
		slower = r.FallSeconds
	}
	limit := l.riseLimit(a.record.SampleIntervalSeconds)
	if state := beyond(slower, limit); state != checks.Within {
		a.find(codeSoftEdges, state, seconds(slower), plain(math.Round(limit*1e10)/1e10, device.Second), plain(math.Round(r.BandwidthHertz.Value/1e4)*1e4, device.Hertz))
	}
}

func (a *analysis) diagnoseDisturbance() {
	r, l := a.result, a.options.Limits
	if state := beyond(r.NoiseVolts, l.NoiseVolts); state != checks.Within {
		a.find(codeNoisy, state, volts(r.NoiseVolts), plain(l.NoiseVolts, device.Volt), plain(r.NoiseBandwidthHertz, device.Hertz))
	}
	a.diagnoseHum()
	state, text := checks.Within, ""
	for _, t := range r.Tones {
		s := beyond(t.RMSVolts, l.ToneVolts)
		if s == checks.Within {
			continue
		}
		if state != outside {
			state = s
		}
		if text != "" {
			text += ", "
		}
		text += fmt.Sprintf("%s rms at %s", volts(t.RMSVolts), checks.Figure(t.Hertz.Value, t.Hertz.U, device.Hertz))
	}
	if state != checks.Within {
		a.find(codeTone, state, text, plain(l.ToneVolts, device.Volt))
	}
}

func (a *analysis) diagnoseHum() {
	r, l := a.result, a.options.Limits
	if state := beyond(r.HumVolts, l.HumVolts); state != checks.Within {
		a.find(codeHum, state, volts(r.HumVolts), plain(math.Round(10*r.HumHertz)/10, device.Hertz), plain(l.HumVolts, device.Volt))
	}
}

// diagnoseTiming compares the line period with those in use.
func (a *analysis) diagnoseTiming() {
	r, l := a.result, a.options.Limits
	if !r.LinePeriodSeconds.OK() {
		return
	}
	nearest := a.nominal.nearestPeriod(r.LinePeriodSeconds.Value)
	off := r.LinePeriodSeconds.times(1 / nearest)
	off.Value--
	if state := beyond(Measured{math.Abs(off.Value), off.U}, l.LineRateShare); state != checks.Within {
		a.find(codeLineRateOff, state, seconds(r.LinePeriodSeconds), 100*off.Value, plain(nearest, device.Second))
	}
}

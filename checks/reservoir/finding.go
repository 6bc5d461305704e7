package reservoir

import "soakline/checks"

// The codes of this package's findings.
const (
	codeTooFewReadings  checks.FindingCode = "too-few-readings"
	codeLeftOut         checks.FindingCode = "readings-left-out"
	codeNoFall          checks.FindingCode = "does-not-fall"
	codeStraight        checks.FindingCode = "falls-straight"
	codeConstantCurrent checks.FindingCode = "constant-current-first"
	codeLoadPutOn       checks.FindingCode = "falls-faster-later"
	codeSlow            checks.FindingCode = "decays-slowly"
	codeStays           checks.FindingCode = "stays-above"
	codeComesBack       checks.FindingCode = "comes-back"
	codeAbsorption      checks.FindingCode = "absorption"
	codeMeterLoads      checks.FindingCode = "meter-loads"
	codeShort           checks.FindingCode = "short-of-a-time-constant"

	codeNoRippleFit    checks.FindingCode = "ripple-not-understood"
	codeESRNotTold     checks.FindingCode = "esr-not-told"
	codeSourceParallel checks.FindingCode = "source-in-parallel"
	codeNoStep         checks.FindingCode = "no-load-step"

	codeNoTrend      checks.FindingCode = "no-trend"
	codeWearing      checks.FindingCode = "wearing"
	codeWorn         checks.FindingCode = "worn"
	codeTooFewSoaks  checks.FindingCode = "too-few-soaks"
	codeNoTemps      checks.FindingCode = "temperature-missing"
	codeNotComparing checks.FindingCode = "left-out-of-history"
)

// findings is the table of this package's codes. No sentence says that anything may
// be touched (cautions K-01, K-07, K-10, K-13 and K-14 in our own words).
var findings = checks.MustFindingTable(
	checks.FindingKind{Code: codeTooFewReadings,
		Sentence: "There are %d readings of the fall, too few for a time constant.",
		Advice:   "Read on, or read more often: ten readings in the first time constant are a good start."},
	checks.FindingKind{Code: codeLeftOut,
		Sentence: "%d of %d readings were left out: not a number, or not later than the one before.",
		Advice:   "Look at the meter's range and at the record's times."},
	checks.FindingKind{Code: codeNoFall,
		Sentence: "The voltage does not fall: it was %s and is %s.",
		Advice:   "Is the unit off and unplugged? Charge may be held: a discharge path may be missing. Treat it as charged."},
	checks.FindingKind{Code: codeStraight,
		Sentence: "The fall is a straight line of %s each second: something draws constant current, and there is no time constant yet.",
		Advice:   "Read on until the regulator drops out; from there the fall slows down a great deal."},
	checks.FindingKind{Code: codeConstantCurrent,
		Sentence: "For the first %s the fall was a straight line, as with a regulator that still works; the time constant is that of the part from %s on.",
		Advice:   "Nothing is wrong; a time constant taken over both parts would be."},
	checks.FindingKind{Code: codeLoadPutOn,
		Sentence: "From %s on the voltage fell faster than before, as if a load had been put across; the time constant is that of this part.",
		Advice:   "If that was the discharge resistor: keep it across the part, and watch the voltage after it is taken off."},
	checks.FindingKind{Code: codeSlow,
		Sentence: "It decays slower than it should: the time constant is %s, expected is %s. The bleeder may be open.",
		Advice:   "Treat it as charged. Check the bleeder with the unit unplugged and the charge gone by a discharge resistor."},
	checks.FindingKind{Code: codeStays,
		Sentence: "By the readings so far it does not come below %s by itself: it tends to %s.",
		Advice:   "Look for what still feeds it, and discharge it through a resistor chosen for voltage, power and time."},
	checks.FindingKind{Code: codeComesBack,
		Sentence: "After the lowest point the voltage came back by %s, to %s.",
		Advice:   "The dielectric gives charge back for minutes. Keep a resistor across the part and measure again before touching."},
	checks.FindingKind{Code: codeAbsorption,
		Sentence: "A second exponential of %s of the voltage lies in the fall, as dielectric absorption makes it.",
		Advice:   "Expect the voltage to come back after a quick discharge, and measure again after some minutes."},
	checks.FindingKind{Code: codeMeterLoads,
		Sentence: "The meter's own %s carries %s of the discharge; it was taken into account.",
		Advice:   "Without the meter the fall takes that much longer."},
	checks.FindingKind{Code: codeShort,
		Sentence: "The record ends after %s of a time constant; that the fall ends near 0 V was assumed.",
		Advice:   "Read on for a better figure."},

	checks.FindingKind{Code: codeNoRippleFit,
		Sentence: "The ripple's cycle is not that of a rectifier with a reservoir capacitor: %s.",
		Advice:   "Take a record right at the capacitor, DC coupled, of ten mains cycles or more, with the load running."},
	checks.FindingKind{Code: codeESRNotTold,
		Sentence: "The ripple does not tell the series resistance: it is below about %s.",
		Advice:   "Take the record with more samples each cycle and less noise, or use a load step."},
	checks.FindingKind{Code: codeSourceParallel,
		Sentence: "A source of about %s lies beside the capacitor and shares the step; it was taken into account.",
		Advice:   "Without that the series resistance would have read %s."},
	checks.FindingKind{Code: codeNoStep,
		Sentence: "There is no step of the load in the record: %s.",
		Advice:   "Trigger on the switching of the load, with some record before it and ten times as much after."},

	checks.FindingKind{Code: codeNoTrend,
		Sentence: "The %s shows no trend: %s a month, with an interval that holds 0.",
		Advice:   "Nothing to do."},
	checks.FindingKind{Code: codeWearing,
		Sentence: "The %s changes by %s a month and meets the limit of %s (%s) in %s, between %s and %s.",
		Advice:   "Plan to replace the part before the early end of that interval."},
	checks.FindingKind{Code: codeWorn,
		Sentence: "The %s is at its limit: %s, limit %s (%s).",
		Advice:   "Replace the part by one of the same rating or better; check polarity before power."},
	checks.FindingKind{Code: codeTooFewSoaks,
		Sentence: "The %s was measured %d times, too few for a trend.",
		Advice:   "Measure it at every soak; from four on there is a first trend."},
	checks.FindingKind{Code: codeNoTemps,
		Sentence: "%d of %d figures have no temperature and were compared as they are.",
		Advice:   "Log a thermometer beside the part: resistance falls a great deal as it warms."},
	checks.FindingKind{Code: codeNotComparing,
		Sentence: "%d figures were left out of the history: not numbers, or at or below 0.",
		Advice:   "Look at the rounds that they come from."},
)

// FindingCodes lists the codes of all findings of this package.
func FindingCodes() []checks.FindingCode { return findings.Codes() }

// find makes a finding.
func find(code checks.FindingCode, state checks.State, args ...any) checks.Finding {
	return findings.MustFind(code, state, args...)
}

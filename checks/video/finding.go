package video

import "soakline/checks"

// The codes of what can be found on a record.
const (
	codeLevelHigh        checks.FindingCode = "level-high"
	codeLevelLow         checks.FindingCode = "level-low"
	codeOffset           checks.FindingCode = "offset"
	codeOvershoot        checks.FindingCode = "overshoot"
	codeSoftEdges        checks.FindingCode = "soft-edges"
	codeNoisy            checks.FindingCode = "noisy"
	codeHum              checks.FindingCode = "hum"
	codeTone             checks.FindingCode = "tone"
	codeSyncLow          checks.FindingCode = "sync-low"
	codeBurstLow         checks.FindingCode = "burst-low"
	codeNoBurst          checks.FindingCode = "no-burst"
	codeNoSync           checks.FindingCode = "no-sync"
	codeInverted         checks.FindingCode = "inverted"
	codeLineRateOff      checks.FindingCode = "line-rate-off"
	codeTilt             checks.FindingCode = "tilt"
	codeWhiteCompressed  checks.FindingCode = "white-compressed"
	codeUnterminated     checks.FindingCode = "looks-unterminated"
	codeDoubleTerminated checks.FindingCode = "looks-double-terminated"
	codeClipped          checks.FindingCode = "clipped-by-range"
	codeACCoupled        checks.FindingCode = "ac-coupled"
	codeWrongSystem      checks.FindingCode = "wrong-system"
	codeTooFewSamples    checks.FindingCode = "too-few-samples"
)

type codes = []checks.FindingCode

// kinds declares every finding: its sentence, which the figures fill, one sentence
// of advice, and what explains it. About the set-up first, then the signal.
var kinds = []checks.FindingKind{
	{
		Code:     codeNoSync,
		Sentence: "No line sync was found: %s.",
		Advice:   "Check that the probe is on the video output and the unit is running, and set the scope so that two lines fill the screen.",
		HidesBehind: codes{codeInverted, codeClipped,
			codeTooFewSamples},
	},
	{
		Code:     codeTooFewSamples,
		Sentence: "There are too few samples: %s.",
		Advice:   "Take the record at 25 MS/s or more, and at least two lines (130 us) long.",
	},
	{
		Code:     codeInverted,
		Sentence: "Sync points upwards: the signal is upside down.",
		Advice:   "Switch off the scope channel's inversion, or look for a stage that inverts; levels are not measured like this.",
	},
	{
		Code:     codeClipped,
		Sentence: "The record is cut off at %s: %s.",
		Advice:   "Choose a range that holds the whole signal, from below sync tip to above white and colour, and measure again.",
	},
	{
		Code:     codeACCoupled,
		Sentence: "The scope's input is AC-coupled, so that levels against 0 V mean nothing; blanking seems to be at %s.",
		Advice:   "Switch the input to DC coupling to check for an offset; amplitudes hold as they are.",
	},
	{
		Code:     codeWrongSystem,
		Sentence: "The record is %s (line period %s), but %s is expected.",
		Advice:   "Check which console this is and whether it has a system switch, and name the system it is meant for.",
	},
	{
		Code:        codeUnterminated,
		Sentence:    "The level is %.2f times nominal (sync %s, nominal %s): this looks like an output without its 75 ohm load.",
		Advice:      "Fit a 75 ohm terminator at the scope and measure again before anything is adjusted, and connect no receiver without one.",
		HidesBehind: codes{codeClipped},
	},
	{
		Code:        codeDoubleTerminated,
		Sentence:    "The level is %.2f times nominal (sync %s, nominal %s): this looks like two 75 ohm loads on one output, or 75 ohm too much in series.",
		Advice:      "Leave one 75 ohm load on the output, look for a second one inside the scope, the monitor or the cable, and measure again.",
		HidesBehind: codes{codeClipped},
	},
	{
		Code:        codeLevelHigh,
		Sentence:    "%s",
		Advice:      "Bring the level down before a receiver is connected: above about 1.4 V sets may crush whites, and an input need not stand it.",
		HidesBehind: codes{codeUnterminated},
	},
	{
		Code:        codeLevelLow,
		Sentence:    "%s",
		Advice:      "Check the 75 ohm load, then the series resistor and the coupling capacitor of the output stage.",
		HidesBehind: codes{codeDoubleTerminated, codeClipped},
	},
	{
		Code:        codeOffset,
		Sentence:    "Blanking sits at %s instead of within %s of 0 V%s.",
		Advice:      "Check the output stage's bias; behind a coupling capacitor blanking moves with the picture, and a leaking one shifts it for good.",
		HidesBehind: codes{codeACCoupled, codeUnterminated},
	},
	{
		Code:        codeSyncLow,
		Sentence:    "Sync is %s where %s is nominal; it is %.0f %% of it, and a receiver may lose lock.",
		Advice:      "Look at how sync is mixed in, and whether the output stage runs out of room at the bottom.",
		HidesBehind: codes{codeDoubleTerminated, codeClipped},
	},
	{
		Code:        codeWhiteCompressed,
		Sentence:    "White is %s above blanking, where sync lets expect %s: the picture is squashed at the top.",
		Advice:      "Check the supply and the bias of the output stage: it may run out of room at the top.",
		HidesBehind: codes{codeClipped},
	},
	{
		Code:        codeOvershoot,
		Sentence:    "Picture edges overshoot: %s of the step, allowed %s%s.",
		Advice:      "Check the load and the cable first, then the peaking or filter parts of the output stage.",
		HidesBehind: codes{codeUnterminated},
	},
	{
		Code:        codeSoftEdges,
		Sentence:    "Picture edges are soft: %s from 10 to 90 %%, allowed %s; that is a bandwidth of about %s.",
		Advice:      "Look for too large a capacitor across the output or too large a series resistor before it.",
		HidesBehind: codes{codeTooFewSamples},
	},
	{
		Code:     codeNoisy,
		Sentence: "Flat parts carry noise of %s rms, allowed %s, over a bandwidth of %s.",
		Advice:   "Check the supply's filtering and the ground connection of the probe; a scope's own noise counts as well.",
	},
	{
		Code:     codeHum,
		Sentence: "Blanking wanders by %s peak to peak at %s, allowed %s.",
		Advice:   "Check the supply's reservoir capacitor and the ground path; over less than a second, sag from field to field looks the same.",
	},
	{
		Code:     codeTone,
		Sentence: "Steady tones lie on flat parts: %s; allowed is %s rms.",
		Advice:   "Look for a clock of that frequency near the video path: faint vertical stripes come from such a tone.",
	},
	{
		Code:        codeBurstLow,
		Sentence:    "The colour burst is %s peak to peak, which is %.0f %% of nominal.",
		Advice:      "Check the chroma path and its trimmer; soft edges take burst away as well, and ringing adds to it.",
		HidesBehind: codes{codeDoubleTerminated, codeClipped, codeSoftEdges},
	},
	{
		Code:     codeNoBurst,
		Sentence: "There is no colour burst on the back porch: %s.",
		Advice:   "Nothing is wrong if this output is black and white; otherwise check the subcarrier crystal and the colour encoder.",
	},
	{
		Code:        codeLineRateOff,
		Sentence:    "The line period is %s, %+.2f %% from the nearest one in use, %s.",
		Advice:      "Check the master clock's crystal and its trimmer; a receiver may not lock.",
		HidesBehind: codes{codeWrongSystem},
	},
	{
		Code:     codeTilt,
		Sentence: "Bright parts sag by %s over a line, allowed %s.",
		Advice:   "The output coupling capacitor has probably lost capacitance: measure it, or put a good one across it.",
	},
}

// findings is the table of all codes.
var findings = checks.MustFindingTable(kinds...)

// FindingCodes lists the codes of all findings.
func FindingCodes() []checks.FindingCode { return findings.Codes() }

// The states that findings are in.
const (
	borderline = checks.Borderline
	outside    = checks.Outside
)

// find adds a finding.
func (a *analysis) find(code checks.FindingCode, state checks.State, args ...any) *checks.Finding {
	r := &a.result
	r.Findings = append(r.Findings, findings.MustFind(code, state, args...))
	if state == outside || r.State == checks.Within {
		r.State = state
	}
	return &r.Findings[len(r.Findings)-1]
}

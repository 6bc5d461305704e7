package audio

import "soakline/checks"

// The codes of what can be found on a record.
const (
	codeTooShort    checks.FindingCode = "too-short"
	codeNoVolts     checks.FindingCode = "no-volts"
	codeSilent      checks.FindingCode = "silent"
	codeOneSilent   checks.FindingCode = "one-channel-silent"
	codeHumOnly     checks.FindingCode = "hum-only"
	codeClipped     checks.FindingCode = "clipped-by-range"
	codeFewCodes    checks.FindingCode = "few-codes"
	codeNoTone      checks.FindingCode = "no-tone"
	codeIdentical   checks.FindingCode = "one-channel-twice"
	codeInverted    checks.FindingCode = "channel-inverted"
	codeDifferent   checks.FindingCode = "channels-differ"
	codeUnbalanced  checks.FindingCode = "unbalanced"
	codeLevelHigh   checks.FindingCode = "level-high"
	codeLevelLow    checks.FindingCode = "level-low"
	codeOffset      checks.FindingCode = "offset"
	codeHum         checks.FindingCode = "hum"
	codeNoisy       checks.FindingCode = "noisy"
	codeDistorted   checks.FindingCode = "distorted"
	codeClicks      checks.FindingCode = "clicks"
	codeDropouts    checks.FindingCode = "dropouts"
	codeNarrowBand  checks.FindingCode = "narrow-band"
	codeHumNotKnown checks.FindingCode = "hum-not-told"
)

type codes = []checks.FindingCode

// findings declares every finding: about the record first, then the signal. Those
// in the state within are notes.
var findings = checks.MustFindingTable(
	checks.FindingKind{Code: codeTooShort,
		Sentence: "The record has %d samples, too few for anything but its level.",
		Advice:   "Take a second or more; ten seconds tell hum and noise well."},
	checks.FindingKind{Code: codeNoVolts,
		Sentence: "The file has no volts: levels are against full scale, at which a sine reads -3.0 dB.",
		Advice:   "Record a tone of known level once with the same settings, and give what full scale is worth in volts."},
	checks.FindingKind{Code: codeSilent,
		Sentence: "There is nothing on %s: %s.",
		Advice:   "Check that the unit plays, that its volume is up, and that the lead sits in the right socket."},
	checks.FindingKind{Code: codeOneSilent,
		Sentence:    "Only %s carries something; %s is at %s.",
		Advice:      "Swap the two plugs at the unit: if the silence moves along, it is the unit's, else the lead's or the recorder's.",
		HidesBehind: codes{codeSilent}},
	checks.FindingKind{Code: codeHumOnly,
		Sentence:    "What is on %s is mainly hum: %s at %s.",
		Advice:      "Check the ground of the lead and that the unit plays; with nothing plugged in a recorder hears the mains.",
		HidesBehind: codes{codeSilent}},
	checks.FindingKind{Code: codeClipped,
		Sentence: "%d samples on %s are at the end of the range.",
		Advice:   "Turn the recorder's level down or choose a larger range, and measure again; distortion and crest factor do not hold."},
	checks.FindingKind{Code: codeFewCodes,
		Sentence: "The noise on %s, %s, is no more than the rounding to %s a step: the unit's own may be lower.",
		Advice:   "Choose a smaller range or more bits to see the unit's own noise."},
	checks.FindingKind{Code: codeNoTone,
		Sentence:    "There is no steady tone on %s, so that distortion and signal to noise are not measured.",
		Advice:      "Play a test tone, or take a second record with the unit silent for the noise alone.",
		HidesBehind: codes{codeSilent, codeHumOnly, codeTooShort, codeOneSilent}},
	checks.FindingKind{Code: codeIdentical,
		Sentence:    "Left and right are the very same samples: one input was recorded twice.",
		Advice:      "Set the recorder to stereo, or take this as one channel; the balance says nothing about the unit.",
		HidesBehind: codes{codeSilent}},
	checks.FindingKind{Code: codeInverted,
		Sentence: "The channels go against each other (correlation %.2f): one is upside down.",
		Advice:   "Look for a lead wired the wrong way round or a stage that inverts; in mono the sound cancels itself."},
	checks.FindingKind{Code: codeDifferent,
		Sentence:    "The channels carry different things (correlation %.2f), where the same is expected on both.",
		Advice:      "Check the leads, and whether the unit is a stereo one; then compare the channels one by one.",
		HidesBehind: codes{codeSilent, codeOneSilent, codeHumOnly}},
	checks.FindingKind{Code: codeUnbalanced,
		Sentence:    "Left is %s against right; allowed is %s dB.",
		Advice:      "Two resistors of 5 % may be 0.9 dB apart with nothing wrong; beyond that compare the channels stage by stage.",
		HidesBehind: codes{codeSilent, codeOneSilent, codeIdentical, codeDifferent}},
	checks.FindingKind{Code: codeLevelHigh,
		Sentence: "The level on %s is %s rms, allowed %s.",
		Advice:   "Check the output stage's gain and feedback resistors.", HidesBehind: codes{codeNoTone}},
	checks.FindingKind{Code: codeLevelLow,
		Sentence:    "The level on %s is %s rms, wanted at least %s.",
		Advice:      "Check the unit's volume, the coupling capacitors, and what the output is loaded with.",
		HidesBehind: codes{codeSilent, codeOneSilent, codeHumOnly}},
	checks.FindingKind{Code: codeOffset,
		Sentence: "%s has %s DC on it, allowed %s.",
		Advice:   "The output coupling capacitor may leak, or stand the wrong way round; measure it with a meter as well."},
	checks.FindingKind{Code: codeHum,
		Sentence: "Hum on %s is %s (%s), mainly at %s; allowed is %s.",
		Advice:   "Check the supply's ripple and the ground of the lead.", HidesBehind: codes{codeHumOnly}},
	checks.FindingKind{Code: codeNoisy,
		Sentence:    "Noise on %s is %s, %s dB below the tone; good for the age is %s dB.",
		Advice:      "Compare with the lead unplugged at the unit, for the recorder's own noise; then look at the supply and old electrolytics.",
		HidesBehind: codes{codeHum, codeFewCodes, codeDropouts}},
	checks.FindingKind{Code: codeDistorted,
		Sentence:    "Harmonics on %s are %s of the tone, allowed %s; chips that play square waves have 48 %% by design.",
		Advice:      "If the tone should be a sine: look at it on the scope for flat tops, and check the output stage's bias.",
		HidesBehind: codes{codeClipped}},
	checks.FindingKind{Code: codeClicks,
		Sentence: "%d clicks on %s, the first at %s, the highest %s.",
		Advice:   "Listen at those times; move leads and sockets gently while the tone runs, and look for a bad joint."},
	checks.FindingKind{Code: codeDropouts,
		Sentence: "The tone on %s drops out %d times, the first at %s for %s.",
		Advice:   "Move leads and sockets gently while the tone runs; a bad joint or a recorder that loses samples looks like this."},
	checks.FindingKind{Code: codeNarrowBand,
		Sentence: "Noise was measured up to %s only: that is what the sample rate allows.",
		Advice:   "Compare it only with records of the same rate, or record at 48 kHz."},
	checks.FindingKind{Code: codeHumNotKnown,
		Sentence: "The record of %s is too short to tell mains hum.",
		Advice:   "Take a second or more."},
)

// FindingCodes lists the codes of all findings.
func FindingCodes() []checks.FindingCode { return findings.Codes() }

// find adds a finding. A code that is not in the table is a mistake in this package
// that no record can cause.
func (a *analysis) find(code checks.FindingCode, state checks.State, args ...any) *checks.Finding {
	f := findings.MustFind(code, state, args...)
	r := &a.result
	r.Findings = append(r.Findings, f)
	if state == checks.Outside || state == checks.Borderline && r.State == checks.Within {
		r.State = state
	}
	return &r.Findings[len(r.Findings)-1]
}

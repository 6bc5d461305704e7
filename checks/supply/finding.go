package supply

import "soakline/checks"

// The codes of this package's findings.
const (
	codeShort      checks.FindingCode = "record-short"
	codeRailLow    checks.FindingCode = "rail-low"
	codeRailHigh   checks.FindingCode = "rail-high"
	codeRippleHigh checks.FindingCode = "ripple-high"
	codeTroughLow  checks.FindingCode = "trough-low"
	codeLegOut     checks.FindingCode = "rectifier-leg-out"
	codeUneven     checks.FindingCode = "rectifier-legs-uneven"
	codeFullWave   checks.FindingCode = "full-wave"
	codeDropout    checks.FindingCode = "dropout"
	codeBrownOut   checks.FindingCode = "brown-out"
	codeStartSlow  checks.FindingCode = "starts-slowly"
	codeStartOver  checks.FindingCode = "start-overshoot"
	codeNoRail     checks.FindingCode = "no-voltage"
)

var findings = checks.MustFindingTable(
	checks.FindingKind{Code: codeNoRail,
		Sentence: "There is no voltage: %s.",
		Advice:   "Check that the unit is on, and that the probe and its ground are where they should be."},
	checks.FindingKind{Code: codeShort,
		Sentence: "The record of %s is too short for mains ripple.",
		Advice:   "Take a tenth of a second or more, at 5 kS/s or more."},
	checks.FindingKind{Code: codeRailLow,
		Sentence:    "The rail is at %s, its low limit is %s.",
		Advice:      "Check the load, then the regulator and what it is fed from: its lowest input must stay above its drop-out.",
		HidesBehind: []checks.FindingCode{codeNoRail}},
	checks.FindingKind{Code: codeRailHigh,
		Sentence: "The rail is at %s, its high limit is %s.",
		Advice:   "Switch off before anything is damaged, and check the regulator and its ground connection."},
	checks.FindingKind{Code: codeRippleHigh,
		Sentence: "The ripple is %s peak to peak, allowed is %s.",
		Advice:   "Check the reservoir capacitor and the rectifier, and whether the load draws more than it should."},
	checks.FindingKind{Code: codeTroughLow,
		Sentence: "The lowest of each cycle is %s, and what it feeds needs %s.",
		Advice:   "Expect ripple behind the regulator. Check the reservoir capacitor, the rectifier and the load."},
	checks.FindingKind{Code: codeLegOut,
		Sentence: "The ripple is at %s, once the mains frequency, where full wave gives twice: half wave, one leg of the rectifier is out.",
		Advice:   "Check each diode, its joints and the halves of the winding, unplugged and discharged. On a regulated rail check the probe's ground for hum first."},
	checks.FindingKind{Code: codeUneven,
		Sentence: "The ripple at twice the mains frequency holds %s of once the mains frequency: the legs of the rectifier differ.",
		Advice:   "Compare the drops of the diodes and the halves of the winding; hum picked up by the probe's ground looks the same."},
	checks.FindingKind{Code: codeFullWave,
		Sentence: "The ripple is at %s, twice the mains frequency: full wave, both legs of the rectifier work.",
		Advice:   "Nothing to do."},
	checks.FindingKind{Code: codeDropout,
		Sentence: "The rail dropped out %s, the first time at %s, down to %s at the lowest.",
		Advice:   "Look for a loose connector, a cracked joint or a protection that trips; move the leads while watching."},
	checks.FindingKind{Code: codeBrownOut,
		Sentence: "The rail browned out %s, the first time at %s, down to %s at the lowest.",
		Advice:   "Check the reservoir capacitor and the load at that moment; mains sags show on every rail at once."},
	checks.FindingKind{Code: codeStartSlow,
		Sentence: "The rail took %s to come up, allowed is %s.",
		Advice:   "Check the regulator's output capacitor, the load and the input voltage while it starts."},
	checks.FindingKind{Code: codeStartOver,
		Sentence: "The rail overshot by %s at the start, allowed is %s.",
		Advice:   "Check the regulator and its output capacitor before a board is connected again."},
)

// FindingCodes lists the codes of all findings of this package.
func FindingCodes() []checks.FindingCode { return findings.Codes() }

// find makes a finding.
func find(code checks.FindingCode, state checks.State, args ...any) checks.Finding {
	return findings.MustFind(code, state, args...)
}

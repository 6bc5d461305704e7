package config

import (
	"crypto/sha256"
	"encoding/hex"
	"slices"
	"strings"
	"time"

	"soakline/checks"
	"soakline/device"
)

// What a test sheet need not say; all workshop defaults, common practice, no
// source. A reading speaks for its point for freshIntervals times the interval at
// which readings are wanted, but at least for leastFresh: a slow answer or two is
// no silence.
const (
	defaultEvery       = time.Second
	freshIntervals     = 3
	leastFresh         = 2 * time.Second
	defaultHold        = 2 * time.Second
	defaultSettle      = 5 * time.Second
	defaultBaselineFor = 30 * time.Second
	defaultEvidencePct = 99
	defaultLongestGap  = 5 * time.Minute
	defaultWatchFor    = time.Minute
	defaultWarmUp      = 30 * time.Minute
	defaultDriftBase   = time.Hour
	defaultAlike       = 0.9
	defaultReference   = 25 // degrees Celsius
)

// LoadedSheet is a test sheet with the text it was read from, so that the book
// can keep exactly what a verdict was judged by.
type LoadedSheet struct {
	checks.Sheet
	// Source is the file byte for byte; Sheet.Hash is its SHA-256.
	Source []byte
}

// ParseSheet reads the text of a test sheet. The name is the file's, for
// messages; the sheet names itself inside. Every mistake is in the error, see
// Mistakes.
func ParseSheet(name string, text []byte) (checks.Sheet, error) {
	d := parse(name, text)
	sheet := d.sheet(text)
	return sheet, joined(d)
}

// sheet reads the whole document as a test sheet; text is what it was parsed from,
// for the hash.
func (d *document) sheet(text []byte) checks.Sheet {
	s := d.top()
	if s == nil {
		return checks.Sheet{}
	}
	sum := sha256.Sum256(text)
	sheet := checks.Sheet{
		Name:        s.text("name", required),
		Console:     checks.ConsoleName(s.text("console", required)),
		VideoSystem: s.oneOf("video_system", "video system", "", "625/50", "525/60"),
		Soak:        readSoak(s.sub("soak", required)),
		Hash:        hex.EncodeToString(sum[:]),
	}
	for _, at := range s.list("test_points", required) {
		sheet.TestPoints = append(sheet.TestPoints, readTestPoint(at))
	}
	for _, at := range s.list("trial", optional) {
		sheet.Trial = append(sheet.Trial, readCriterion(at))
	}
	sheet.Final = readFinal(s.sub("final", optional))
	s.done()
	d.validate("", sheet.Validate())
	d.suggestTestPoints(sheet)
	return sheet
}

// suggestTestPoints offers the nearest test point where a check is compared with
// one that the sheet has not, or a trial is ranked by it.
func (d *document) suggestTestPoints(sheet checks.Sheet) {
	var names []string
	for _, p := range sheet.TestPoints {
		names = append(names, string(p.Name))
	}
	for _, m := range d.mistakes {
		if given, ok := d.texts[m.Key]; ok && (strings.HasSuffix(m.Key, ".test_point") || strings.HasSuffix(m.Key, ".beside") || strings.HasSuffix(m.Key, ".load_test_point")) && !slices.Contains(names, given) {
			m.suggest(&device.NameError{Kind: "test point", Name: given, Known: names})
		}
	}
}

// readSoak reads the soak plan. A file gives the evidence in percent, as a person
// says it; the plan holds a share.
func readSoak(s *section) checks.SoakPlan {
	if s == nil {
		return checks.SoakPlan{}
	}
	plan := checks.SoakPlan{
		Duration:        s.duration("duration", required, 0),
		EvidenceAtLeast: s.number("evidence_at_least_pct", optional, defaultEvidencePct) / 100,
		LongestGap:      s.duration("longest_gap", optional, defaultLongestGap),
		RemindEvery:     s.duration("remind_every", optional, 0),
		Cycles:          readCycles(s.sub("power_cycles", optional)),
	}
	s.done()
	return plan
}

// readCycles reads how a soak switches the unit off and on again.
func readCycles(s *section) *checks.CyclePlan {
	if s == nil {
		return nil
	}
	plan := &checks.CyclePlan{
		TestPoint: checks.TestPointName(s.text("test_point", required)),
		Cycles:    s.integer("cycles", required, 0),
		On:        s.duration("on", required, 0),
		Off:       s.duration("off", required, 0),
	}
	s.done()
	return plan
}

// readTestPoint reads a test point. Its checks stand in a list; where there is
// only one, its keys may stand at the test point itself.
func readTestPoint(s *section) checks.TestPoint {
	if s == nil {
		return checks.TestPoint{}
	}
	point := checks.TestPoint{
		Name:    checks.TestPointName(s.text("name", required)),
		About:   s.text("about", optional),
		Connect: s.text("connect", optional),
		Caution: s.text("caution", optional),
	}
	point.Discharge = readDischarge(s.sub("discharge", optional))
	point.Audio = readAudio(s.sub("audio", optional))
	point.Reservoir = readReservoir(s.sub("reservoir", optional))
	point.Wear = readWear(s.sub("wear", optional))
	if !s.has("checks") {
		s.value("checks", optional)
		point.Checks = []checks.Check{readCheck(s)}
		s.done()
		return point
	}
	for _, at := range s.list("checks", required) {
		if at == nil {
			point.Checks = append(point.Checks, checks.Check{})
			continue
		}
		point.Checks = append(point.Checks, readCheck(at))
		at.done()
	}
	s.done()
	return point
}

// readDischarge reads how the voltage at a capacitor is watched down.
func readDischarge(s *section) *checks.DischargePlan {
	if s == nil {
		return nil
	}
	plan := &checks.DischargePlan{
		BelowVolts: s.quantity("below", device.DCVoltage, required, 0),
		WatchFor:   s.duration("watch_for", optional, defaultWatchFor),

		LoadOhms:          s.quantity("load", device.Resistance, optional, 0),
		CapacitanceFarads: s.quantity("capacitance", device.Capacitance, optional, 0),
		ExpectedTau:       s.duration("expected_tau", optional, 0),
	}
	s.done()
	return plan
}

// readAudio reads what plays at an audio output.
func readAudio(s *section) *checks.AudioPlan {
	if s == nil {
		return nil
	}
	plan := &checks.AudioPlan{
		ToneHertz:  s.quantity("tone", device.Frequency, optional, 0),
		MainsHertz: s.quantity("mains", device.Frequency, optional, 0),
		Beside:     checks.TestPointName(s.text("beside", optional)),
	}
	alike := 0.0
	if plan.Beside != "" {
		alike = defaultAlike
	}
	plan.AlikeAtLeast = s.quantity("alike_at_least", device.ChannelBalance, optional, alike)
	s.done()
	return plan
}

// readCheck reads the keys of one check; whoever calls it is done with the
// section afterwards.
func readCheck(s *section) checks.Check {
	m := s.measure("measure", required)
	c := checks.Check{
		Measure:    m,
		Limit:      readLimit(s.sub("limit", required), m),
		Every:      s.duration("every", optional, defaultEvery),
		Hold:       s.duration("hold", optional, defaultHold),
		Hysteresis: s.quantity("hysteresis", m, optional, 0),
		Settle:     s.duration("settle", optional, defaultSettle),
		Against:    readReference(s.sub("against", optional)),
		Drift:      readDrift(s.sub("drift", optional), m),
	}
	c.FreshFor = s.duration("fresh_for", optional, max(leastFresh, freshIntervals*c.Every))
	return c
}

// readDrift reads how a check is watched for drift.
func readDrift(s *section, m device.Measure) *checks.DriftPlan {
	if s == nil {
		return nil
	}
	plan := &checks.DriftPlan{
		WarmUp:        s.duration("warm_up", optional, defaultWarmUp),
		Baseline:      s.duration("baseline", optional, defaultDriftBase),
		SmallestShift: s.quantity("smallest_shift", m, optional, 0),
	}
	s.done()
	return plan
}

// readReference reads what a check is compared with. The time for the baseline has
// a default only where there is a baseline.
func readReference(s *section) checks.Reference {
	if s == nil {
		return checks.Reference{}
	}
	ref := checks.Reference{
		TestPoint: checks.TestPointName(s.text("test_point", optional)),
		Measure:   s.measure("measure", optional),
		Baseline:  s.truth("baseline"),
	}
	if ref.Baseline || s.has("baseline_for") {
		ref.BaselineFor = s.duration("baseline_for", optional, defaultBaselineFor)
	} else {
		s.value("baseline_for", optional)
	}
	s.done()
	return ref
}

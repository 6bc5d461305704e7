package checks

import (
	"time"

	"soakline/device"
)

// Names of things that are all strings on paper, kept apart in calls.
type (
	// ConsoleName is a console model, as in "Brambling 8".
	ConsoleName string
	// UnitID is the asset number of one piece, as in "B8-0147".
	UnitID string
	// TestPointName is a test point of a console, as in "rail-5v".
	TestPointName string
)

// Sheet is a console's test sheet: its test points with their limits and how it
// is soaked. It is plain data; Validate says what is wrong with it.
type Sheet struct {
	Name    string
	Console ConsoleName
	// VideoSystem is "625/50", "525/60" or empty where the console has no
	// composite output.
	VideoSystem string
	TestPoints  []TestPoint
	Soak        SoakPlan
	// Trial are what the candidates of a trial are ranked by, the first one first;
	// empty where the sheet does not say.
	Trial []Criterion
	// Final is the final test; without steps where the sheet has none.
	Final FinalPlan
	// Hash is the SHA-256 of the sheet's file in hex, so that a verdict can name
	// exactly what it was judged by.
	Hash string
}

// Check returns the check of a test point's measure, if the sheet has one.
func (s Sheet) Check(key CheckKey) (Check, bool) {
	for _, p := range s.TestPoints {
		if p.Name != key.TestPoint {
			continue
		}
		for _, c := range p.Checks {
			if c.Measure == key.Measure {
				return c, true
			}
		}
	}
	return Check{}, false
}

// TestPoint is one place on a console that readings are taken at, with what is
// checked there.
type TestPoint struct {
	Name TestPointName
	// About says in a few words what the point is; Connect what to connect where;
	// Caution is shown before hands go near it. Each may be empty.
	About, Connect, Caution string
	Checks                  []Check
	// Discharge, if not nil, is how the voltage here is watched down.
	Discharge *DischargePlan
	// Audio, if not nil, says that the point is an audio output.
	Audio *AudioPlan
	// Reservoir, if not nil, says that a record of the point shows a reservoir
	// capacitor's ripple.
	Reservoir *ReservoirPlan
	// Wear, if not nil, is how the capacitor here is followed over months.
	Wear *WearPlan
}

// Check is one measure at one test point and what is asked of it.
type Check struct {
	Measure device.Measure
	Limit   Limit
	// Every is how often a reading is wanted; 0 means as fast as the instrument
	// answers.
	Every time.Duration
	// FreshFor is how long a reading speaks for the point. After it the state is
	// silent, and the time until the next reading is missing from the evidence.
	FreshFor time.Duration
	// Hold is how long readings must stay outside before it is an excursion, and
	// how long they must stay back inside to end it.
	Hold time.Duration
	// Hysteresis is how far, in the measure's unit, readings must come back
	// inside the limit to end an excursion.
	Hysteresis float64
	// Settle is how long after the begin of watching the state is settling.
	Settle time.Duration
	// Against says what the reading is compared with before the limit applies;
	// the zero value compares the reading itself.
	Against Reference
	// Drift, if not nil, is how the readings are watched for drift.
	Drift *DriftPlan
}

// Reference turns a level into an offset: the limit then applies to the
// difference between the reading and the reference.
type Reference struct {
	// TestPoint, if set, names the test point of the same unit whose latest fresh
	// reading of Measure (or of the check's own measure, if empty) is subtracted.
	TestPoint TestPointName
	Measure   device.Measure
	// Baseline, if true, subtracts the mean of the unit's own first readings of
	// this check after settling, taken over BaselineFor.
	Baseline    bool
	BaselineFor time.Duration
}

// SoakPlan is how a console is soaked and what a soak must show to pass.
type SoakPlan struct {
	// Duration is how long the soak runs unless said otherwise at its begin.
	Duration time.Duration
	// EvidenceAtLeast is the share (0 to 1) of the soak that readings must cover
	// at every check.
	EvidenceAtLeast float64
	// LongestGap is the longest single gap in the readings of a check that may
	// still lead to a pass.
	LongestGap time.Duration
	// RemindEvery is how often people are told again of what lasts; 0 is never.
	RemindEvery time.Duration
	// Cycles, if not nil, is how the unit is switched off and on again meanwhile.
	Cycles *CyclePlan
}

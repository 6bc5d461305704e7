package checks

import (
	"time"

	"soakline/device"
)

// FinalRecord is what the book knows of one final test, as plain values: enough to
// judge it, now and years later.
type FinalRecord struct {
	Unit UnitID
	// Begin and End are the time it took; End is zero while it is under way.
	Begin, End time.Time
	// SheetHash is that of the sheet by which it was taken.
	SheetHash string
	// GivenUp says why it was given up before its end; empty if it was not.
	GivenUp string
	// Instruments are those of the unit's place, each as often as it changed.
	Instruments []FinalInstrument
	// Results are in the order in which they were taken; a step that was taken again
	// has several, and the latest counts.
	Results []StepResult
	// Soaks are those that Results name, judged by the same sheet.
	Soaks []FinalSoak
}

// FinalInstrument is an instrument as it was from Since on.
type FinalInstrument struct {
	Name, Port, Identity string
	// Calibrated and CalibrationDue are days, at midnight UTC; zero where nobody gave
	// them. It is overdue after the day it is due.
	Calibrated, CalibrationDue time.Time
	Since                      time.Time
}

// OverdueAt tells whether the calibration's date had gone by at a time. A day lasts
// to its end in UTC.
func (i FinalInstrument) OverdueAt(at time.Time) bool {
	return !i.CalibrationDue.IsZero() && !stampOf(at).time().Before(i.CalibrationDue.AddDate(0, 0, 1))
}

// StepAct says what became of a step.
type StepAct string

// What can become of a step.
const (
	// Taken is a step that was gone through.
	Taken StepAct = "taken"
	// Skipped was left out by a person, for the reason in Note.
	Skipped StepAct = "skipped"
	// Unread could not be read; Trouble says why.
	Unread StepAct = "unread"
)

// StepResult is what was found in one step. Which fields are set follows from Kind.
// Times are to the microsecond, in UTC.
type StepResult struct {
	Step       StepName
	Kind       StepKind
	Act        StepAct
	Begin, End time.Time
	// TestPoint is where it was read.
	TestPoint TestPointName
	// Readings are those of every repeat.
	Readings []StepReading
	// Settled is how the readings settled before.
	Settled SettledReport
	// Findings are what most of the records said, Remarks what a person should know
	// about the readings.
	Findings []Finding
	Remarks  []string
	// Answer is the person's; Note is why the step was skipped, or what the person
	// wished to be written down.
	Answer Answer
	Note   string
	// Waited is how long a wait lasted.
	Waited time.Duration
	// Watched tells whether the voltage was watched below what the sheet asks for as
	// long as it asks; Volts is the latest reading, NaN if it is not known.
	Watched bool
	Volts   float64
	// Soak is the soak's number in its book; 0 if the unit had none.
	Soak int64
	// Trouble says why it could not be read.
	Trouble string
}

// StepReading is one figure as it was read.
type StepReading struct {
	// Repeat counts from 1.
	Repeat     int
	TestPoint  TestPointName
	Measure    device.Measure
	Instrument string
	At         time.Time
	// Value is in the measure's unit; U is one standard uncertainty, 0 where nobody
	// gave one.
	Value, U float64
	// Averaged is how many readings it is the mean of.
	Averaged int
}

// SettledReport says how readings settled.
type SettledReport struct {
	// Settled is true if they stayed within the spread for long enough; Spread is
	// what they spread over in the end, and Took how long that took.
	Settled bool
	Spread  float64
	Took    time.Duration
}

// FinalSoak is a soak that a final test relies on.
type FinalSoak struct {
	Soak int64
	// SheetHash is that of the sheet by which it was soaked; Verdict is by the sheet
	// that the final test is judged by.
	SheetHash string
	// Ended is false while it runs.
	Ended   bool
	Verdict Verdict
	// Instruments are the names of those that took its readings.
	Instruments []string
}

// latest returns the last result of a step and how many times the step was taken.
func (r FinalRecord) latest(step StepName) (last StepResult, taken int, found bool) {
	for _, result := range r.Results {
		if result.Step != step {
			continue
		}
		last, found = result, true
		if result.Act == Taken {
			taken++
		}
	}
	return last, taken, found
}

// instrumentAt is an instrument as it was at a time; the first that is known of it
// where that is later.
func (r FinalRecord) instrumentAt(name string, at time.Time) (FinalInstrument, bool) {
	var found FinalInstrument
	known := false
	for _, i := range r.Instruments {
		if i.Name == name && (!known || !i.Since.After(at)) {
			found, known = i, true
		}
	}
	return found, known
}

// soak returns a soak by its number.
func (r FinalRecord) soak(id int64) (FinalSoak, bool) {
	for _, s := range r.Soaks {
		if s.Soak == id && id != 0 {
			return s, true
		}
	}
	return FinalSoak{}, false
}

package checks

import "time"

// State is how a check stands at one moment.
type State string

// The five states.
const (
	Settling   State = "settling"   // not watched long enough to say
	Within     State = "within"     // inside the limit and clear of the guard band
	Borderline State = "borderline" // in the guard band, on either side of the limit
	Outside    State = "outside"    // beyond the limit by more than the guard band
	Silent     State = "silent"     // no fresh reading
)

// States lists the states, the worst last but for silent, in a fixed order.
func States() []State { return []State{Settling, Within, Borderline, Outside, Silent} }

// ChangeKind sorts what a reading or the passing of time can change.
type ChangeKind string

// The kinds of change.
const (
	StateChanged   ChangeKind = "state"
	ExcursionBegun ChangeKind = "excursion-begun" // it lasted for the hold time
	ExcursionEnded ChangeKind = "excursion-ended"
	CheckRefused   ChangeKind = "check-refused" // it can't be decided, Text says why
)

// Change is something that has become different about a check.
type Change struct {
	Check CheckKey
	Kind  ChangeKind
	// At is the reading that changed it, or the moment the last reading stopped
	// being fresh.
	At time.Time
	// From and To are the states of a StateChanged.
	From, To State
	// Excursion belongs to ExcursionBegun and ExcursionEnded.
	Excursion Excursion
	Text      string
}

// Standing is how a check stands now, for those who show it. A number that is
// not known is NaN.
type Standing struct {
	Check CheckKey
	State State
	// Since is when this state began.
	Since time.Time
	// At is when the latest figure was read; Value is the reading and Figure what
	// the limit is applied to, the reading less its reference.
	At            time.Time
	Value, Figure float64
	// U is one standard uncertainty of Figure.
	U     float64
	Limit Limit
	// Low and High are where Figure has been since the settle time.
	Low, High float64
	// Readings is how many have been judged.
	Readings int
	// Refused says why the check can't be decided; empty if it can.
	Refused string
}

// Bracket returns the drawing of how the check stands.
func (s Standing) Bracket() Bracket {
	return Bracket{Limit: s.Limit, U: s.U, Reading: s.Figure, Low: s.Low, High: s.High, State: s.State}
}

// FigureText prints the latest figure with its unit and uncertainty; a check that
// is silent is not known, whatever was read before.
func (s Standing) FigureText() string {
	if s.State == Silent {
		return NotKnown
	}
	return Figure(s.Figure, s.U, s.Check.Measure.Unit())
}

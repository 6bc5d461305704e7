package checks

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

package checks

import (
	"time"

	"soakline/device"
)

// Edge is one end of a limit.
type Edge string

// The two ends.
const (
	LowEdge  Edge = "low"
	HighEdge Edge = "high"
)

// CheckKey names one check of one console: a measure at a test point.
type CheckKey struct {
	TestPoint TestPointName
	Measure   device.Measure
}

// Excursion is an interval in which a check was outside (or borderline).
type Excursion struct {
	Check CheckKey
	// State is Outside or Borderline: the worst that the interval held.
	State State
	Edge  Edge
	// From is the first reading outside, To the first reading back inside; To is
	// the zero time while it lasts.
	From, To time.Time
	// Worst is the figure farthest out, WorstAt when it was read, Limit the edge
	// it left, and WorstU one standard uncertainty of it; all in the measure's
	// unit.
	Worst   float64
	WorstAt time.Time
	WorstU  float64
	Limit   float64
}

// Gap is an interval without a fresh reading.
type Gap struct {
	Check    CheckKey
	From, To time.Time
	// Cause says what is known about it: "silent", "readings lost: queue full".
	Cause string
}

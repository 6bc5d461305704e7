// Package reservoir measures the power capacitor: how fast its charge goes after
// power-off, how large it still is, its series resistance, and how both change
// over months.
//
// Discharge looks at a saved record and Countdown at readings as they come; both
// fit an exponential with a floor by nonlinear least squares (fit) to the part of
// the readings that is one (segment). CapacitanceFromRipple works from two figures,
// FitRipple from a scope record, FitLoadStep from a record of a load that is
// switched, and Wear from figures gathered over months.
//
// No figure and no text of this package says that anything may be touched: a
// computed time assumes that the discharge path is whole, charge comes back by
// itself, and a reading that is missing or stale is not known.
package reservoir

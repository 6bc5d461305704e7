// Package capability is the arithmetic of a line: how large a share of units is
// right the first time, how the spread of good units stands to its limits, and what
// limits that spread would suggest. Every estimate comes with an interval, because a
// line has tens of units and not thousands.
package capability

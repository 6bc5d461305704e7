// Package parts is the arithmetic of the bench: what a part value will do before
// it is fitted. It covers the shunt and the series capacitor, the emitter
// follower, the divider and level trim, resistor mixing and the reservoir
// capacitor, the preferred values of IEC 60063 and the way IEC 60062 writes a
// value (4k7, 1n5, R47).
//
// Every network is a plain struct with Validate; its result carries SI units in
// field names and JSON keys, and Rows for a table. The package imports nothing
// else of this program.
package parts

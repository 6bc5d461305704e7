// Package video measures composite baseband video from a scope record and says
// what the figures mean.
//
// A record of at least one line is enough; up to a frame and more is used. The
// way through it is: one pass that averages blocks of a quarter microsecond
// (scan), line sync pulses found in those (sync, line), the system from the line
// period and the burst (system, burst), then gates on the samples themselves:
// levels line by line (level), edges laid over each other (edge), noise and steady
// tones on what is flat (noise, tone), slow wander from line to line (hum), and at
// the end what all this says about the unit and about how it was measured
// (diagnose).
//
// Nominal figures are those of SMPTE 170M and ITU-R BT.470-6/BT.1700 as quoted by
// second sources; limits are the caller's.
package video

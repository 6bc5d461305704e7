// Package pulse describes two-state waveforms in the terms of IEEE 181-2011:
// state levels, reference level instants, transition durations, aberrations
// before and after a transition, and settling. Clause numbers are quoted from
// memory; the standard's text was not at hand.
//
// Samples are evenly spaced. Levels are in the unit of the samples (volts, as a
// rule), instants and durations in seconds from the first sample, aberrations in
// percent of the amplitude, which is the difference of the two state levels and
// not the peak-to-peak value.
package pulse

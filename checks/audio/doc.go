// Package audio measures line-level audio from a scope's or a sound card's record
// and says what the figures mean: is it as loud as before, are both channels the
// same, did the noise floor move, and does it matter.
//
// The way through it is: one pass over the samples (level, blocks), one Fourier
// transform of the whole record (spectrum), lines found in it (tone, hum), what is
// left when they are taken out (noise, distortion), the two channels against each
// other (balance), short disturbances (click, dropout), and what all this says
// about the unit and about how it was measured (diagnose). Response goes through a
// record of stepped tones or a sweep, Compare sets two results side by side.
//
// Levels are rms. 0 dBV is 1 V and 0 dBu is sqrt(0.6) V. A record
// without volts is measured in shares of full scale: 0 dB then is a converter
// filled to the top at every sample, so that a full-scale sine reads -3.01 dB.
// Limits are the caller's.
package audio

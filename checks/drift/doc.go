// Package drift tells whether a series of readings wanders, how fast, since when,
// and when it will meet its limit.
//
// It has the parts on their own (Stream, EWMA, CUSUM, FitLine, SlopeOf, TheilSen,
// MannKendall, ChangePointOf, ForecastLimit) and two ways to use them together: a
// Monitor takes readings one by one during a soak in constant memory, and Analyse
// takes a saved record at once. Both give the same Result, which is a function of
// the readings alone: time comes in with each reading, and there is no clock here.
//
// # Readings that resemble their neighbours
//
// Successive readings of one point are rarely independent, and every textbook
// limit that takes them so alarms too often. Three things are done about it:
//
//   - Readings are gathered into batches of equal number and the batch means are
//     charted and fitted (the method of batch means; common practice in the
//     analysis of simulation output).
//   - A baseline at the beginning teaches the level, the spread and the
//     autocorrelation about its own straight line. The limits of both charts come
//     from the long-run variance, spread^2 (1 + r)/(1 - r), which is what the mean
//     of many such readings scatters with. EWMA limits for a stationary process
//     follow Zhang (Technometrics 40, 1998; from memory).
//   - Slopes count n (1 - r)/(1 + r) readings instead of n, in their standard error
//     and in their degrees of freedom (Santer and others, J. Geophys. Res. 105,
//     2000; from memory).
//
// # A drift that begins midway
//
// Where a chart has alarmed and one line does not do for what was before the change
// and what came after it (Chow's test), the trend and the time to the limit are of
// the readings since the change. A level that steps and stays so has none.
//
// The package imports nothing else of this program.
package drift

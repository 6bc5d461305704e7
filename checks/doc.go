// Package checks judges readings. It holds the words of the trade that judging
// needs (Limit, State, Excursion, Evidence, Verdict, Sheet) and small state
// machines over them. It knows no port, no file and no clock: time comes in with
// the reading, so what was judged live is judged again years later with the same
// outcome.
package checks

// Package checks judges readings. It holds the words of the trade that judging
// needs (Limit, State, Excursion, Evidence, Verdict, Sheet) and small state
// machines over them. It knows no port, no file and no clock: time comes in with
// the reading, so what was judged live is judged again years later with the same
// outcome.
//
// A soak is judged by a Judgement, which holds one Watch for each check of its
// Sheet; Judge feeds a record through the same code. Clauses of JCGM 100:2008 and
// JCGM 106:2012 are cited from memory, those of ILAC-G8:09/2019 from a copy of its
// pages 8 to 10.
package checks

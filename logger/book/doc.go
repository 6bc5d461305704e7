// Package book keeps everything that a bench has seen in one SQLite file: units,
// readings, captures, rounds, trials, soaks with their excursions, gaps, events
// and verdicts.
//
// One process writes a book at a time (a lock file beside it says who); any
// number read it. Readings go in through a Writer, which commits in groups; a
// committed reading survives kill -9 and a power cut (write-ahead log,
// synchronous=FULL).
//
// # Form
//
// schema/NNNN.sql holds one migration per version; PRAGMA user_version is the
// number of the last one applied, PRAGMA application_id is "Soak". Times are
// microseconds since 1970 UTC. A reading keeps the digits that the instrument
// sent (coefficient and exponent), or the bits of the float where it was computed,
// and one standard uncertainty; what comes out is bit for bit what went in.
//
// All times that come out are in UTC.
package book

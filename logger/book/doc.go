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
// microseconds since 1970 UTC.
//
// # Reading blocks
//
// The readings of a series (one tag) are kept in blocks of about 2,000, as many as
// fill a page of 4,096 bytes. A block is written once and never changed. Its row in
// the table block has the number, first and last time, smallest and largest value
// and sum of its readings, so that an overview needs no decoding; the row of the
// same id in block_data has the readings, in time order, those of one microsecond
// in the order of their arrival, followed by the CRC-32C of what is before:
//
//	form          byte, 1
//	series        uvarint
//	count         uvarint, 1 to 4,096
//	times         a straight line, and what is left of each time (timeline.go)
//	kinds         a column: 0 digits, 1 a computed float, 2 digits as text; 4 is
//	              added where the value is not what the digits give
//	exponents     a column, of ten
//	coefficients  a column; for a computed float its bits
//	uncertainties one number, an accuracy clause that gives all of them to the last
//	              bit, a table, or a column of their bits (uncertain.go)
//	extras        for each reading of kind 2 its digits (uvarint length, text), and
//	              of kind 4 and above its value (float64, little endian)
//
// The summaries of 64 blocks that follow each other are kept once more in a row of
// the table overview (overview.go), so that a chart of a month reads few pages.
//
// A column (column.go) is one whole number per reading: less a prediction, cut into
// bytes of one significance (planes), each of which is compressed by itself
// (plane.go). uvarint and varint are those of encoding/binary. What comes out is
// bit for bit what went in, whatever instrument or calculation it came from.
//
// # Tail
//
// A commit does not rewrite blocks: it adds one row to the table tail, with the
// readings that are in no block yet (tailrow.go). When a series has enough of them,
// the commit writes its block, says in its tail row what is left over, and rows
// that nobody needs any more are deleted. Readings that go back in time are kept
// where they belong: blocks may overlap, and are merged when they are read.
//
// # Lines of other books
//
// Line protocol that was exported from another book has its excursions and verdicts.
// They are kept as lines in the table other_line (otherline.go), so that an export of
// this book has them as well, each where its time belongs.
//
// # Thinned soaks
//
// A soak of long ago may be thinned (thin.go): its blocks, but for those around
// excursions, rounds and final tests, become envelopes in the table thinned
// (thinned.go), which charts go on to show. The table thinning says so of each such
// soak; its verdict stays as it was given and cannot be given anew.
//
// # Books of other benches
//
// ImportBook takes another bench's whole book over (importbook.go). Records are known
// again by what tells them apart there and here (importtables.go), not by numbers
// alone, so that an import may be repeated, broken off, and come by way of a third
// book. The tables other_unit and other_record say which numbers they have here, and
// other_link keeps that book's chain: Check verifies it by the records' numbers there
// (otherchain.go). Texts that were judged and chained stay byte by byte; the number of
// a soak in them is that of the book where they were written (SoakOfFinal).
//
// All times that come out are in UTC.
package book

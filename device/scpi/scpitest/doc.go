// Package scpitest plays golden conversations: an instrument's side of a talk over
// a serial line, written down in a file, against the code that asks.
//
// A talk is a text file with one step a line:
//
//	# a comment
//	= lf crlf        how messages end that are sent, and lines that are received
//	> *IDN?          the program must send this; a bare > is an empty message
//	< Saltmarsh,M6   the instrument sends this; a \ at the end leaves the ending off
//	x 00 13 ff       the instrument sends these bytes
//	~ 20ms           the instrument takes its time
//	! hang-up        the line is gone from here on
package scpitest

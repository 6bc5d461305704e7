package device

import (
	"bytes"
	"math/bits"
)

// maxRecordColumns is how many columns are looked at.
const maxRecordColumns = 64

// recordDialect is how a record's lines are written.
type recordDialect struct {
	// separator parts the columns; ' ' stands for any run of blanks and tabs.
	separator    byte
	decimalComma bool
}

// recordDialects are tried in this order; the first of equally good ones counts.
var recordDialects = []recordDialect{
	{'\t', false}, {';', false}, {',', false}, {' ', false},
	{'\t', true}, {';', true}, {' ', true}, {',', true},
}

// cell takes the first column off the line: its text without blanks and quotes
// around it, and the rest of the line; more tells whether there is a rest.
func (d recordDialect) cell(line []byte) (cell, rest []byte, more bool) {
	if d.separator == ' ' {
		line = bytes.Trim(line, " \t")
		i := bytes.IndexAny(line, " \t")
		if i < 0 {
			return line, nil, false
		}
		return line[:i], bytes.TrimLeft(line[i:], " \t"), true
	}
	if len(line) > 0 && line[0] == '"' {
		if i := bytes.IndexByte(line[1:], '"'); i >= 0 {
			cell, rest = line[1:1+i], line[2+i:]
			_, rest, more = bytes.Cut(rest, []byte{d.separator})
			return bytes.TrimSpace(cell), rest, more
		}
	}
	i := bytes.IndexByte(line, d.separator)
	if i < 0 {
		return bytes.TrimSpace(line), nil, false
	}
	return trimBlanks(line[:i]), line[i+1:], true
}

// trimBlanks is bytes.TrimSpace with its usual case, nothing to trim, in front.
func trimBlanks(cell []byte) []byte {
	if len(cell) > 0 && cell[0] > ' ' && cell[len(cell)-1] > ' ' {
		return cell
	}
	return bytes.TrimSpace(cell)
}

// cells takes a whole line apart, at most maxRecordColumns of it.
func (d recordDialect) cells(line []byte) [][]byte {
	var cells [][]byte
	for more := true; more && len(cells) < maxRecordColumns; {
		var cell []byte
		cell, line, more = d.cell(line)
		cells = append(cells, cell)
	}
	return cells
}

// figures tells which columns of the line hold something meant as a figure, as
// bits, and how many others hold something else.
func (d recordDialect) figures(line []byte) (columns uint64, others int) {
	for i, more := 0, true; more && i < maxRecordColumns; i++ {
		var cell []byte
		cell, line, more = d.cell(line)
		switch {
		case d.figure(cell):
			columns |= 1 << i
		case len(cell) > 0:
			others++
		}
	}
	return columns, others
}

// holds tells whether the line has figures in all the columns.
func (d recordDialect) holds(line []byte, columns uint64) bool {
	have, _ := d.figures(line)
	return have&columns == columns
}

// figure tells whether a cell is meant as a figure. Not-a-number is: it must not
// be taken for a header.
func (d recordDialect) figure(cell []byte) bool {
	if notFinite(cell) {
		return true
	}
	_, ok := d.number(cell)
	return ok
}

// dialectFit is how well a dialect explains the last lines of the probe.
type dialectFit struct {
	columns uint64 // that hold figures in most of the last lines
	others  int    // cells in those lines that hold something else
	alike   int    // lines of the whole probe with figures in all the columns
}

// better tells whether f explains the lines better than g: the wrong separator
// leaves pieces of figures over, or finds fewer columns, or fewer lines.
func (f dialectFit) better(g dialectFit) bool {
	switch {
	case f.columns == 0 || g.columns == 0:
		return f.columns != 0
	case f.others != g.others:
		return f.others < g.others
	case bits.OnesCount64(f.columns) != bits.OnesCount64(g.columns):
		return bits.OnesCount64(f.columns) > bits.OnesCount64(g.columns)
	default:
		return f.alike > g.alike
	}
}

// guessDialect finds the dialect that explains the probe best, and the columns of
// figures; none where there is no such dialect.
func guessDialect(probe []recordLine) (best recordDialect, columns uint64) {
	var found dialectFit
	for _, d := range recordDialects {
		if fit := d.fit(probe); fit.better(found) {
			best, found = d, fit
		}
	}
	return best, found.columns
}

// fit looks at the last lines, because header lines come first; the very last one
// may have been cut off, so the most frequent columns count.
func (d recordDialect) fit(probe []recordLine) (fit dialectFit) {
	const tail = 5
	times, others := map[uint64]int{}, map[uint64]int{}
	for _, line := range probe[max(0, len(probe)-tail):] {
		columns, other := d.figures(line.text)
		times[columns]++
		others[columns] += other
		more := times[columns] > times[fit.columns]
		if columns != 0 && (more || fit.columns == 0 || times[columns] == times[fit.columns] && bits.OnesCount64(columns) >= bits.OnesCount64(fit.columns)) {
			fit.columns = columns
		}
	}
	fit.others = others[fit.columns]
	for _, line := range probe {
		if fit.columns != 0 && d.holds(line.text, fit.columns) {
			fit.alike++
		}
	}
	return fit
}

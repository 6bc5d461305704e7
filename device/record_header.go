package device

import (
	"bytes"
	"slices"
	"strings"
	"unicode"
	"unicode/utf8"
)

// recordHeader is the text around a record's table.
type recordHeader struct {
	dialect recordDialect
	// rows are the lines above the table, cut into cells.
	rows [][][]byte
	// settings are the lines of the form key,value, wherever in the probe they
	// stand: some scopes write them to the left of the table.
	settings map[string][]byte
}

// newRecordHeader takes the lines apart that stand above the first one with
// figures in all the columns.
func newRecordHeader(d recordDialect, probe []recordLine, columns uint64) recordHeader {
	h := recordHeader{dialect: d, settings: map[string][]byte{}}
	above := true
	for _, line := range probe {
		above = above && !d.holds(line.text, columns)
		if above {
			h.rows = append(h.rows, d.headerCells(line.text))
		}
		key, value := d.setting(line.text)
		if name := settingKey(key); name != "" && !d.figure(key) {
			h.settings[name] = value
		}
	}
	return h
}

// headerCells takes a header line apart. Where blanks part the columns, a comment
// mark in front is no column and a unit in brackets belongs to the name before it.
func (d recordDialect) headerCells(line []byte) [][]byte {
	if d.separator != ' ' {
		return d.cells(line)
	}
	var cells [][]byte
	for _, cell := range d.cells(bytes.TrimLeft(line, "#% \t")) {
		if n := len(cells); n > 0 && bytes.IndexAny(cell, "([") == 0 {
			cells[n-1] = bytes.Join([][]byte{cells[n-1], cell}, []byte(" "))
			continue
		}
		cells = append(cells, cell)
	}
	return cells
}

// setting reads a line of the form key,value; in a line of one column a colon, an
// equals sign or a comma may part them.
func (d recordDialect) setting(line []byte) (key, value []byte) {
	if d.separator != ' ' {
		key, rest, more := d.cell(line)
		if more {
			value, _, _ = d.cell(rest)
			return key, value
		}
	}
	i := bytes.IndexAny(line, ":=,")
	if i < 0 {
		return nil, nil
	}
	return line[:i], bytes.TrimSpace(line[i+1:])
}

// headerText is a header's cell as text. What is not UTF-8 is taken for Latin-1:
// its micro sign must not be lost.
func headerText(cell []byte) string {
	if utf8.Valid(cell) {
		return string(cell)
	}
	runes := make([]rune, len(cell))
	for i, b := range cell {
		runes[i] = rune(b)
	}
	return string(runes)
}

// settingKey is a key in lower case, its words parted by single blanks.
func settingKey(cell []byte) string {
	return strings.Join(headerWords(headerText(cell)), " ")
}

// headerWords are the runs of letters and digits in text, in lower case.
func headerWords(text string) []string {
	return strings.FieldsFunc(strings.ToLower(text), func(r rune) bool {
		return !unicode.IsLetter(r) && !unicode.IsDigit(r)
	})
}

// titleRows are the two rows right above the table, the nearest first: a row of
// units and one of names, or the other way round.
func (h recordHeader) titleRows() [][][]byte {
	rows := slices.Clone(h.rows[max(0, len(h.rows)-2):])
	slices.Reverse(rows)
	return rows
}

// titles are the cells of a column in the title rows.
func (h recordHeader) titles(column int) []string {
	var titles []string
	for _, row := range h.titleRows() {
		if column < len(row) {
			titles = append(titles, headerText(row[column]))
		}
	}
	return titles
}

// column finds a column by its title.
func (h recordHeader) column(name string) (column int, found bool) {
	for _, row := range h.titleRows() {
		for i, cell := range row {
			if strings.EqualFold(headerText(cell), strings.TrimSpace(name)) {
				return i, true
			}
		}
	}
	return 0, false
}

// namesSentence says which names the title rows have.
func (h recordHeader) namesSentence() string {
	var names []string
	for _, row := range h.titleRows() {
		for _, cell := range row {
			if len(cell) > 0 && !h.dialect.figure(cell) {
				names = append(names, headerText(cell))
			}
		}
	}
	return sentenceOf(names)
}

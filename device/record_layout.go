package device

import (
	"bytes"
	"errors"
	"fmt"
	"math/bits"
	"strings"
)

// recordLayout is what the first lines of a record tell about all of it.
type recordLayout struct {
	dialect recordDialect
	// first is the index of the first line of the table in the probe.
	first int
	// timeColumn and valueColumn count from 0; timeColumn is -1 where times are
	// not looked at, and then intervalSeconds is set.
	timeColumn, valueColumn int
	intervalSeconds         float64
	secondsPerUnit          float64
	voltsPerUnit            float64
	inVolts                 bool // the header says so
	coupling                string
}

var errNoTable = errors.New("no table of figures found in the first lines: " +
	"columns are parted by comma, semicolon, tab or blanks")

// newRecordLayout finds the table in the probe.
func newRecordLayout(probe []recordLine, opts RecordOptions) (recordLayout, error) {
	dialect, columns := guessDialect(probe)
	if columns == 0 {
		return recordLayout{}, errNoTable
	}
	if opts.SampleRateHertz > 0 && opts.ValueColumn == 0 && opts.ValueName == "" && commaOnly(dialect, columns, probe) {
		return recordLayout{}, errors.New("a comma parts two whole numbers on each line: " +
			"name the value column, or write decimals with a point if it is one column")
	}
	layout := recordLayout{dialect: dialect, timeColumn: -1, secondsPerUnit: 1, voltsPerUnit: 1}
	header := newRecordHeader(dialect, probe, columns)
	if err := layout.chooseColumns(columns, header, opts); err != nil {
		return recordLayout{}, err
	}
	layout.chooseScale(header, opts)
	layout.coupling = header.coupling()
	layout.first = len(header.rows)
	return layout, nil
}

// commaOnly tells whether the lines may as well be one column with a decimal
// comma: two columns without a sign or point after the comma.
func commaOnly(d recordDialect, columns uint64, probe []recordLine) bool {
	if d.separator != ',' || d.decimalComma || columns != 3 {
		return false
	}
	for _, line := range probe {
		if d.holds(line.text, columns) && bytes.ContainsAny(line.text, ". \"") {
			return false
		}
	}
	return true
}

// chooseColumns picks time and value among the columns of figures.
func (l *recordLayout) chooseColumns(columns uint64, header recordHeader, opts RecordOptions) error {
	timeColumn := bits.TrailingZeros64(columns)
	rest := columns &^ (1 << timeColumn)
	l.valueColumn = bits.TrailingZeros64(rest)
	if rest == 0 {
		l.valueColumn = timeColumn
	}
	switch {
	case opts.ValueName != "":
		column, found := header.column(opts.ValueName)
		if !found {
			return fmt.Errorf("no column named %q: %s", opts.ValueName, header.namesSentence())
		}
		l.valueColumn = column
	case opts.ValueColumn > 0:
		l.valueColumn = opts.ValueColumn - 1
	}
	if columns&(1<<l.valueColumn) == 0 {
		return fmt.Errorf("column %d holds no figures", l.valueColumn+1)
	}
	if opts.SampleRateHertz > 0 {
		l.intervalSeconds = 1 / opts.SampleRateHertz
		return nil
	}
	if timeColumn != l.valueColumn && !header.counts(timeColumn) {
		l.timeColumn = timeColumn
		return nil
	}
	interval, found := header.interval()
	if !found {
		return errors.New("no column of times before the values: give the sample rate")
	}
	l.intervalSeconds = interval
	return nil
}

// chooseScale takes the units from the header; the options' scale goes first.
func (l *recordLayout) chooseScale(header recordHeader, opts RecordOptions) {
	if l.timeColumn >= 0 {
		l.secondsPerUnit = header.scale(l.timeColumn, recordSeconds, "horizontal unit", "time unit", "x unit")
	}
	l.voltsPerUnit, l.inVolts = header.scaleOf(l.valueColumn, recordVolts, "vertical unit", "voltage unit", "y unit")
	if opts.VoltsPerUnit != 0 {
		l.voltsPerUnit = opts.VoltsPerUnit
	}
}

// sentenceOf lists names for a message.
func sentenceOf(names []string) string {
	if len(names) == 0 {
		return "the file names no columns"
	}
	return "the file names " + strings.Join(names, ", ")
}

package device

import (
	"bytes"
	"encoding/csv"
	"errors"
	"fmt"
	"io"
	"math"
	"slices"
	"strconv"
	"strings"
	"time"
)

// stampedLook is how much of a file is looked at to tell what it is.
const stampedLook = 64 << 10

// isStamped tells CSV whose first line names time and value and whose second has a
// moment for its time, not a number.
func isStamped(head []byte) bool {
	first, second := firstLines(head)
	columns, err := csv.NewReader(bytes.NewReader(first)).Read()
	if err != nil || !slices.Contains(columns, "value") {
		return false
	}
	at := slices.Index(columns, "time")
	if at < 0 {
		return false
	}
	cells, err := csv.NewReader(bytes.NewReader(second)).Read()
	if err != nil || at >= len(cells) {
		return second == nil
	}
	_, err = strconv.ParseFloat(cells[at], 64)
	return err != nil
}

// seriesName says which readings belong together in a stamped file.
type seriesName struct{ unit, testPoint, measure string }

func (n seriesName) String() string {
	return strings.Join(slices.DeleteFunc([]string{n.unit, n.testPoint, n.measure}, func(s string) bool { return s == "" }), " ")
}

// stampedReader gathers one series of a stamped file.
type stampedReader struct {
	opts    SeriesOptions
	columns map[string]int
	series  Series
	wanted  []seriesName // that match, in the order of the file
	others  []seriesName // that do not
	last    time.Time
}

// readStamped reads CSV with a header line; line is where an error stands.
func readStamped(r io.Reader, opts SeriesOptions) (s Series, line int, err error) {
	in := csv.NewReader(r)
	in.ReuseRecord = true
	header, err := in.Read()
	if err != nil {
		return s, 1, csvFault(err)
	}
	read := stampedReader{opts: opts, columns: map[string]int{}}
	for i, column := range header {
		read.columns[column] = i
	}
	for {
		cells, err := in.Read()
		if errors.Is(err, io.EOF) {
			s, err = read.end()
			return s, 0, err
		}
		if parse, ok := errors.AsType[*csv.ParseError](err); ok {
			return s, parse.Line, csvFault(err)
		}
		if line, _ = in.FieldPos(0); err != nil {
			return s, line, err
		}
		if err := read.take(cells); err != nil {
			return s, line, err
		}
	}
}

// csvFault is a CSV reader's error without the line, which is told beside it.
func csvFault(err error) error {
	if parse, ok := errors.AsType[*csv.ParseError](err); ok {
		return parse.Err
	}
	return err
}

func (s *stampedReader) cell(cells []string, column string) string {
	if at, ok := s.columns[column]; ok {
		return cells[at]
	}
	return ""
}

// matches tells whether a name is the one wanted. What the file has no column for
// can't tell its readings apart.
func (s *stampedReader) matches(column, wanted, is string) bool {
	_, named := s.columns[column]
	return wanted == "" || wanted == is || !named
}

// most is how many series are told apart for a message.
const most = 1000

// take takes one line in, if it is of the series that is wanted.
func (s *stampedReader) take(cells []string) error {
	name := seriesName{s.cell(cells, "unit"), s.cell(cells, "test_point"), s.cell(cells, "measure")}
	into := &s.others
	if s.matches("unit", s.opts.TestedUnit, name.unit) && s.matches("test_point", s.opts.TestPoint, name.testPoint) &&
		s.matches("measure", string(s.opts.Measure), name.measure) {
		into = &s.wanted
	}
	if len(*into) < most && !slices.Contains(*into, name) {
		*into = append(*into, seriesName{strings.Clone(name.unit), strings.Clone(name.testPoint), strings.Clone(name.measure)})
	}
	if into == &s.others || len(s.wanted) > 1 {
		return nil
	}
	at, err := time.Parse(time.RFC3339Nano, s.cell(cells, "time"))
	if err != nil {
		return fmt.Errorf("the time %.40q is no moment such as 2026-03-14T09:26:53.5Z", s.cell(cells, "time"))
	}
	text := s.cell(cells, "value")
	value, err := strconv.ParseFloat(text, 64)
	if err != nil || math.IsNaN(value) || math.IsInf(value, 0) {
		return fmt.Errorf("the value %.40q is not a finite number", text)
	}
	return s.add(at, value)
}

func (s *stampedReader) add(at time.Time, value float64) error {
	switch n := len(s.series.Values); {
	case n == 0:
		s.series.Begin = at
	case at.Before(s.last):
		return fmt.Errorf("the time goes back from %s to %s", s.last.Format(time.RFC3339Nano), at.Format(time.RFC3339Nano))
	case n == maxRecordSamples:
		return fmt.Errorf("more than %d readings: cut the file into pieces", maxRecordSamples)
	}
	s.last = at
	s.series.Seconds = append(s.series.Seconds, at.Sub(s.series.Begin).Seconds())
	s.series.Values = append(s.series.Values, value)
	return nil
}

// end says whether it is one series that was read.
func (s *stampedReader) end() (Series, error) {
	switch {
	case len(s.wanted) > 1:
		return Series{}, fmt.Errorf("%d series of readings: pick one by its unit, test point and measure; %s", len(s.wanted), named(s.wanted))
	case len(s.wanted) == 0 && len(s.others) > 0:
		return Series{}, fmt.Errorf("no reading is what was asked for; %s", named(s.others))
	case len(s.wanted) == 0:
		return Series{}, errors.New("no readings")
	case len(s.series.Values) == 1:
		return Series{}, errors.New("one reading only: a series has two or more")
	}
	measure := Measure(s.wanted[0].measure)
	if measure == "" {
		measure = s.opts.Measure
	}
	s.series.Unit = measure.Unit()
	return s.series, nil
}

// named lists the first series of a file.
func named(all []seriesName) string {
	const shown = 8
	var names []string
	for _, name := range all[:min(shown, len(all))] {
		names = append(names, name.String())
	}
	if len(all) > shown {
		names = append(names, "…")
	}
	return "the file has " + strings.Join(names, ", ")
}

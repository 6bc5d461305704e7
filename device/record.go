package device

import (
	"errors"
	"fmt"
	"io"
	"math"
)

// RecordOptions says what a saved record's file does not say itself. The zero
// value takes the first column of numbers as time in seconds and the next one as
// volts, unless the file's header says otherwise.
type RecordOptions struct {
	// SampleRateHertz, if above 0, gives the samples' spacing: for a file of one
	// column, or instead of a time column that was printed too coarsely.
	SampleRateHertz float64
	// VoltsPerUnit, if not 0, is what a figure of the value column is worth,
	// whatever unit the header names. Negative turns the record over.
	VoltsPerUnit float64
	// ValueColumn is the column of the values counted from 1; ValueName the name
	// of it in the file's header, in either case of letters. At most one is set.
	ValueColumn int
	ValueName   string
	// LeaveCutLine leaves out a last line that breaks off, which otherwise is an
	// error.
	LeaveCutLine bool
}

// Validate says what is wrong with the options.
func (o RecordOptions) Validate() error {
	var wrong []error
	if !(o.SampleRateHertz >= 0) || math.IsInf(o.SampleRateHertz, 0) {
		wrong = append(wrong, fmt.Errorf("sample rate %v Hz: wanted above 0, or 0 where the file has times", o.SampleRateHertz))
	}
	if math.IsNaN(o.VoltsPerUnit) || math.IsInf(o.VoltsPerUnit, 0) {
		wrong = append(wrong, fmt.Errorf("scale %v V per unit: wanted a finite number", o.VoltsPerUnit))
	}
	if o.ValueColumn < 0 || o.ValueColumn > maxRecordColumns {
		wrong = append(wrong, fmt.Errorf("value column %d: wanted 1 to %d", o.ValueColumn, maxRecordColumns))
	}
	if o.ValueColumn != 0 && o.ValueName != "" {
		wrong = append(wrong, fmt.Errorf("value column %d and value name %q: give one of them", o.ValueColumn, o.ValueName))
	}
	return errors.Join(wrong...)
}

// RecordError is a saved record that cannot be read.
type RecordError struct {
	Name string // the file
	Line int    // counted from 1; 0 where no line is to blame
	Err  error
}

// Error names the file, the line and what is wrong.
func (e *RecordError) Error() string {
	if e.Line == 0 {
		return fmt.Sprintf("%s: %v", e.Name, e.Err)
	}
	return fmt.Sprintf("%s, line %d: %v", e.Name, e.Line, e.Err)
}

// Unwrap returns what is wrong.
func (e *RecordError) Unwrap() error { return e.Err }

// maxRecordSamples bounds the memory that one file can ask for: 1 GiB of samples.
const maxRecordSamples = 1 << 27

// ReadRecord reads one channel of a scope record saved as text, gzipped or not:
// a table of time and volts under any header lines, parted by tabs, semicolons,
// commas or blanks, with decimal points or commas, line endings of any kind. name
// stands for the file in errors, which are RecordError.
//
// Between two figures parted by a lone comma the comma parts columns; it is a
// decimal comma where columns are parted otherwise. Times are seconds unless the
// header names ms, us, ns or ps; values are volts unless it names mV, uV or kV.
// Header lines are those before the first line that holds a figure in every column
// of the table; from there on a line without figures is an error, never left out,
// but for blank lines. Settings in header lines of the form key,value are
// used where the table has no times (sample interval, sample rate) and for the
// coupling.
//
// The record must have two samples or more, all finite, evenly spaced in time as
// far as the printed times can tell. Capture.SampleIntervalSeconds comes from the
// first and the last time, Capture.StepVolts from the samples' own levels where
// they are few; its range ends and At are left for the caller.
func ReadRecord(r io.Reader, name string, opts RecordOptions) (Capture, error) {
	if err := opts.Validate(); err != nil {
		return Capture{}, &RecordError{Name: name, Err: err}
	}
	text, err := recordText(r)
	if err != nil {
		return Capture{}, &RecordError{Name: name, Err: err}
	}
	lines := newRecordLines(text)
	capture, err := readRecordTable(lines, opts)
	if err != nil {
		return Capture{}, asRecordError(name, lines.number, err)
	}
	return capture, nil
}

// errAtLine moves the blame for an error to another line than the last one read;
// line 0 blames none.
type errAtLine struct {
	line int
	err  error
}

func (e *errAtLine) Error() string { return e.err.Error() }
func (e *errAtLine) Unwrap() error { return e.err }

func asRecordError(name string, line int, err error) error {
	if at, ok := errors.AsType[*errAtLine](err); ok {
		line, err = at.line, at.err
	}
	return &RecordError{Name: name, Line: line, Err: err}
}

// readRecordTable finds the table's layout in the first lines, then reads all.
func readRecordTable(lines *recordLines, opts RecordOptions) (Capture, error) {
	probe, err := probeRecord(lines)
	if err != nil {
		return Capture{}, err
	}
	layout, err := newRecordLayout(probe, opts)
	if err != nil {
		return Capture{}, &errAtLine{err: err}
	}
	var times recordTimes
	table := recordTable{layout: layout, leaveCut: opts.LeaveCutLine, times: &times}
	if err := table.fill(probe, lines); err != nil {
		return Capture{}, err
	}
	return table.capture(&times)
}

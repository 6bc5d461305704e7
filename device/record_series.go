package device

import (
	"bufio"
	"bytes"
	"errors"
	"fmt"
	"io"
	"math"
	"time"
)

// Series is one check's readings, each at its own time.
type Series struct {
	// Begin is when the first reading was taken; the zero time where the file's times
	// are seconds on a zero of its own.
	Begin time.Time
	// Seconds are as the file has them, or from Begin on. They never go back; Values
	// are finite, in Unit, and as many.
	Seconds, Values []float64
	// Unit is the zero Unit where neither the file nor the options say it.
	Unit Unit
}

// SeriesOptions say which readings of a file are wanted and what it does not say
// itself. The zero value takes a file of one series as it is.
type SeriesOptions struct {
	// Table is for a table of times and values. Values are not taken for volts there
	// unless the header or VoltsPerUnit says so.
	Table RecordOptions
	// TestedUnit, TestPoint and Measure pick one series of a file that names them; ""
	// takes any. Measure says what a table without names holds.
	TestedUnit, TestPoint string
	Measure               Measure
}

// Validate says what is wrong with the options.
func (o SeriesOptions) Validate() error {
	if o.Measure != "" && !o.Measure.Known() {
		return errors.Join(o.Table.Validate(), fmt.Errorf("unknown measure %q", o.Measure))
	}
	return o.Table.Validate()
}

// ReadSeries reads readings that need not be evenly spaced, gzipped or not: a table
// as ReadRecord takes it, with times in seconds, or CSV whose first line names the
// columns time (RFC 3339) and value and may name unit, test_point and measure, as
// the book's own export does. name stands for the file in errors, which are
// RecordError.
func ReadSeries(r io.Reader, name string, opts SeriesOptions) (Series, error) {
	if err := opts.Validate(); err != nil {
		return Series{}, &RecordError{Name: name, Err: err}
	}
	plain, err := recordText(r)
	if err != nil {
		return Series{}, &RecordError{Name: name, Err: err}
	}
	text := bufio.NewReaderSize(plain, stampedLook)
	// A short file gives fewer bytes and an error that the first read gives again.
	head, _ := text.Peek(stampedLook)
	if isStamped(head) {
		series, line, err := readStamped(text, opts)
		if err != nil {
			return Series{}, asRecordError(name, line, err)
		}
		return series, nil
	}
	lines := newRecordLines(text)
	series, err := readTimedTable(lines, opts)
	if err != nil {
		return Series{}, asRecordError(name, lines.number, err)
	}
	return series, nil
}

// readTimedTable reads a table of times in seconds and values.
func readTimedTable(lines *recordLines, opts SeriesOptions) (Series, error) {
	probe, err := probeRecord(lines)
	if err != nil {
		return Series{}, err
	}
	layout, err := newRecordLayout(probe, opts.Table)
	if err != nil {
		return Series{}, &errAtLine{err: err}
	}
	times := keptTimes{secondsPerUnit: layout.secondsPerUnit}
	table := recordTable{layout: layout, leaveCut: opts.Table.LeaveCutLine, times: &times}
	if err := table.fill(probe, lines); err != nil {
		return Series{}, err
	}
	series := Series{Seconds: times.seconds, Values: table.volts, Unit: opts.Measure.Unit()}
	if opts.Measure == "" && (layout.inVolts || opts.Table.VoltsPerUnit != 0) {
		series.Unit = Volt
	}
	if layout.timeColumn < 0 {
		series.Seconds = make([]float64, len(table.volts))
		for i := range series.Seconds {
			series.Seconds[i] = float64(i) * layout.intervalSeconds
		}
	}
	for i, v := range series.Values {
		if math.IsInf(v, 0) {
			return Series{}, &errAtLine{err: fmt.Errorf("value %d is too large for its scale", i+1)}
		}
	}
	return series, nil
}

// keptTimes keeps every time, which may stand still but not go back.
type keptTimes struct {
	seconds        []float64
	secondsPerUnit float64
}

func (k *keptTimes) add(at, _ float64) error {
	at *= k.secondsPerUnit
	if n := len(k.seconds); n > 0 && at < k.seconds[n-1] {
		return fmt.Errorf("the time goes back from %v s to %v s", k.seconds[n-1], at)
	}
	k.seconds = append(k.seconds, at)
	return nil
}

// firstLines cuts the first two lines that are not blank off a text's head.
func firstLines(head []byte) (first, second []byte) {
	for len(head) > 0 && second == nil {
		var line []byte
		line, head, _ = bytes.Cut(head, []byte("\n"))
		switch line = bytes.TrimSpace(line); {
		case len(line) == 0:
		case first == nil:
			first = line
		default:
			second = line
		}
	}
	return first, second
}

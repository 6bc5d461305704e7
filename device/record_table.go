package device

import (
	"errors"
	"fmt"
	"io"
	"slices"
)

// recordTable gathers the samples of a record line by line.
type recordTable struct {
	layout   recordLayout
	leaveCut bool
	volts    []float64
	times    timekeeper
}

// timekeeper takes the printed times of a table one by one; step is what a time's
// last printed digit is worth. An error is about the time just given.
type timekeeper interface {
	add(at, step float64) error
}

// add takes one line in.
func (t *recordTable) add(line recordLine) error {
	if err := t.addWhole(line.text); err != nil {
		if line.ended {
			return err
		}
		if t.leaveCut {
			return nil
		}
		return fmt.Errorf("the file breaks off in this line after %d whole samples: %w", len(t.volts), err)
	}
	return nil
}

func (t *recordTable) addWhole(text []byte) error {
	timeCell, valueCell, err := t.split(text)
	if err != nil || valueCell == nil {
		return err
	}
	value, _, err := t.figure(valueCell, "value")
	if err != nil {
		return err
	}
	if t.layout.timeColumn >= 0 {
		at, step, err := t.figure(timeCell, "time")
		if err != nil {
			return err
		}
		if err := t.times.add(at, step); err != nil {
			return err
		}
	}
	if len(t.volts) == maxRecordSamples {
		return fmt.Errorf("more than %d samples: cut the record into pieces", maxRecordSamples)
	}
	t.volts = append(t.volts, value*t.layout.voltsPerUnit)
	return nil
}

// split finds the cells of time and value; both are nil for a blank line.
func (t *recordTable) split(rest []byte) (timeCell, valueCell []byte, err error) {
	if len(trimBlanks(rest)) == 0 {
		return nil, nil, nil
	}
	last := max(t.layout.timeColumn, t.layout.valueColumn)
	for column, more := 0, true; column <= last; column++ {
		if !more {
			return nil, nil, fmt.Errorf("%d columns, wanted at least %d", column, last+1)
		}
		var cell []byte
		cell, rest, more = t.layout.dialect.cell(rest)
		if column == t.layout.timeColumn {
			timeCell = cell
		}
		if column == t.layout.valueColumn {
			valueCell = cell
			if valueCell == nil {
				valueCell = []byte{}
			}
		}
	}
	return timeCell, valueCell, nil
}

// figure reads one cell, or says what is wrong with it; step is what its last
// printed digit is worth.
func (t *recordTable) figure(cell []byte, what string) (value, step float64, err error) {
	if number, ok := t.layout.dialect.scanNumber(cell); ok {
		if value, finite := number.value(); finite {
			return value, number.printedStep(), nil
		}
	}
	switch {
	case len(cell) == 0:
		return 0, 0, fmt.Errorf("the %s is missing", what)
	case notFinite(cell):
		return 0, 0, fmt.Errorf("the %s is %q, not a finite number", what, cell)
	default:
		return 0, 0, fmt.Errorf("the %s %.40q is no number", what, cell)
	}
}

// fill reads the whole table, the lines of the probe first.
func (t *recordTable) fill(probe []recordLine, lines *recordLines) error {
	for _, line := range probe[t.layout.first:] {
		if err := t.add(line); err != nil {
			return &errAtLine{line.number, err}
		}
	}
	for {
		line, err := lines.next()
		if err == io.EOF {
			break
		}
		if err != nil {
			return err
		}
		if err := t.add(line); err != nil {
			return err
		}
	}
	switch len(t.volts) {
	case 0:
		return &errAtLine{err: errors.New("no samples")}
	case 1:
		return &errAtLine{err: errors.New("one sample only: a record has two or more")}
	}
	return nil
}

// capture is the table as an evenly spaced record, whose times have been followed.
func (t *recordTable) capture(times *recordTimes) (Capture, error) {
	interval := t.layout.intervalSeconds
	if t.layout.timeColumn >= 0 {
		interval = times.interval() * t.layout.secondsPerUnit
	}
	if !(interval > 0) {
		return Capture{}, &errAtLine{err: errors.New("the times are too close together to tell apart")}
	}
	return Capture{
		Volts:                 slices.Clip(t.volts),
		SampleIntervalSeconds: interval,
		StepVolts:             quantisationStep(t.volts),
		Coupling:              t.layout.coupling,
	}, nil
}

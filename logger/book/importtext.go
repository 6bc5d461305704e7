package book

import (
	"encoding/csv"
	"errors"
	"fmt"
	"io"
	"math"
	"slices"
	"strconv"
	"strings"
	"time"

	"github.com/influxdata/line-protocol/v2/lineprotocol"

	"soakline/checks"
	"soakline/device"
	"soakline/device/scpi"
)

// csvSource reads what ExportCSV writes.
type csvSource struct {
	reader *csv.Reader
	begun  bool
}

func newCSVSource(r io.Reader) *csvSource {
	reader := csv.NewReader(r)
	reader.FieldsPerRecord, reader.ReuseRecord = len(csvHeader), true
	return &csvSource{reader: reader}
}

func (s *csvSource) key(f *figure) figureKey {
	u := math.Float64bits(f.u)
	if f.u == 0 {
		u = 0 // it is written as unknown
	}
	value := f.value
	if f.kind&figureBeside != 0 { // the text has the digits, not what was beside them
		value = f.digitsValue()
	}
	return figureKey{f.at, math.Float64bits(value), u}
}

func (s *csvSource) next() (entry, error) {
	if !s.begun {
		s.begun = true
		header, err := s.reader.Read()
		if err != nil && !errors.Is(err, io.EOF) {
			return entry{}, err
		}
		if err == nil && !slices.Equal(header, csvHeader) {
			return entry{}, fmt.Errorf("line 1: the header is %q, want %q", strings.Join(header, ","), strings.Join(csvHeader, ","))
		}
	}
	record, err := s.reader.Read()
	if err != nil {
		return entry{}, err // it names the line
	}
	r, err := readCSV(record)
	if err != nil {
		line, _ := s.reader.FieldPos(0)
		return entry{}, fmt.Errorf("line %d: %w", line, err)
	}
	return entry{reading: r}, nil
}

func readCSV(record []string) (TaggedReading, error) {
	own := func(i int) string { return strings.Clone(record[i]) }
	r := TaggedReading{Tag: Tag{
		Bench: own(1), Console: checks.ConsoleName(own(2)), Unit: checks.UnitID(own(3)),
		TestPoint: checks.TestPointName(own(4)), Instrument: own(5), Measure: device.Measure(own(6)),
	}}
	r.Measure = r.Tag.Measure
	var err error
	if r.At, err = time.Parse(csvTime, record[0]); err != nil {
		return r, fmt.Errorf("time %q is not of the form 2026-03-14T09:26:53.589793Z", record[0])
	}
	r.At = micro(r.At)
	// A ratio of volts had no symbol in older exports.
	if unit := r.Measure.Unit(); record[8] != unit.Symbol && (unit != device.Factor || record[8] != "") {
		return r, fmt.Errorf("unit_symbol %q, but %s is in %q", record[8], r.Measure, unit.Symbol)
	}
	if err := readValue(record[7], &r.Reading); err != nil {
		return r, err
	}
	if record[9] != "" {
		if r.StandardUncertainty, err = strconv.ParseFloat(record[9], 64); err != nil {
			return r, fmt.Errorf("u %q is not a number", record[9])
		}
	}
	return r, r.check()
}

// readValue tells floats from digits by how they are written: strconv writes e+08,
// scpi.Decimal E8.
func readValue(text string, r *device.Reading) (err error) {
	if strings.Contains(text, "e") {
		if r.Value, err = strconv.ParseFloat(text, 64); err != nil {
			return fmt.Errorf("value %q is not a number", text)
		}
		return nil
	}
	if r.Digits, err = scpi.ParseDecimal(text); err != nil {
		return fmt.Errorf("value: %w", err)
	}
	r.Value = r.Digits.Float64()
	return nil
}

// lineSource reads what ExportLines writes.
type lineSource struct {
	decoder *lineprotocol.Decoder
	line    int64
	tags    map[Tag]Tag // so that equal names share their memory
}

func newLineSource(r io.Reader) *lineSource {
	return &lineSource{decoder: lineprotocol.NewDecoder(r), tags: make(map[Tag]Tag)}
}

func (s *lineSource) key(f *figure) figureKey {
	return figureKey{at: f.at, value: math.Float64bits(f.value)}
}

func (s *lineSource) next() (entry, error) {
	if !s.decoder.Next() {
		if err := s.decoder.Err(); err != nil {
			return entry{}, fmt.Errorf("after entry %d: %w", s.line, err)
		}
		return entry{}, io.EOF
	}
	s.line++
	one, err := s.entry()
	if err != nil {
		return entry{}, fmt.Errorf("entry %d: %w", s.line, err)
	}
	return one, nil
}

func (s *lineSource) entry() (one entry, err error) {
	name, err := s.decoder.Measurement()
	if err != nil {
		return one, err
	}
	switch kind := string(name); kind {
	case "reading":
		one.reading, err = s.reading()
	case excursionLine, verdictLine:
		one.other, err = s.other(kind)
	default:
		err = fmt.Errorf("%q is no reading", name)
	}
	return one, err
}

// readTags reads the tags of a line.
func (s *lineSource) readTags(into *Tag) error {
	for {
		key, value, err := s.decoder.NextTag()
		if key == nil || err != nil {
			return err
		}
		if err := into.set(string(key), string(value)); err != nil {
			return err
		}
	}
}

func (s *lineSource) reading() (TaggedReading, error) {
	var r TaggedReading
	if err := s.readTags(&r.Tag); err != nil {
		return r, err
	}
	if r.Tag.Measure == "" {
		return r, errors.New("a reading needs the tag measure")
	}
	if shared, ok := s.tags[r.Tag]; ok {
		r.Tag = shared
	} else {
		s.tags[r.Tag] = r.Tag
	}
	r.Measure = r.Tag.Measure
	if err := s.value(&r); err != nil {
		return r, err
	}
	at, err := s.time("reading")
	if err != nil {
		return r, err
	}
	r.At = micro(at)
	return r, r.check()
}

// value reads the one field of a reading.
func (s *lineSource) value(r *TaggedReading) error {
	want := fieldName(r.Measure.Unit().Plural)
	r.Value = math.NaN()
	for {
		key, value, err := s.decoder.NextField()
		if err != nil {
			return err
		}
		if key == nil {
			break
		}
		if string(key) != want {
			return fmt.Errorf("field %q, but %s is in %q", key, r.Measure, want)
		}
		number, ok := value.Interface().(float64)
		if !ok {
			return fmt.Errorf("field %q is %v, not a float", key, value)
		}
		r.Value = number
	}
	return nil
}

// set gives a tag the name of a key in line protocol.
func (t *Tag) set(key, name string) error {
	switch key {
	case "bench":
		t.Bench = name
	case "console":
		t.Console = checks.ConsoleName(name)
	case "unit":
		t.Unit = checks.UnitID(name)
	case "test_point":
		t.TestPoint = checks.TestPointName(name)
	case "instrument":
		t.Instrument = name
	case "measure":
		t.Measure = device.Measure(name)
	default:
		return fmt.Errorf("tag %q is none of a reading's", key)
	}
	return nil
}

package book

import (
	"context"
	"encoding/csv"
	"io"
	"strconv"
)

// csvTime is RFC 3339 with the six places that the book keeps.
const csvTime = "2006-01-02T15:04:05.000000Z07:00"

var csvHeader = []string{"time", "bench", "console", "unit", "test_point", "instrument", "measure", "value", "unit_symbol", "u"}

// ExportCSV writes the readings that match a filter in time order as RFC 4180 has
// it, with a header line, and returns how many there were. value is the digits that
// the instrument sent, or the shortest text that gives the float again; u is one
// standard uncertainty in the same unit, empty where none is known. Control
// characters in names are replaced by visible ones.
func (b *Book) ExportCSV(ctx context.Context, w io.Writer, filter Filter) (int64, error) {
	var count int64
	out := csv.NewWriter(w)
	out.UseCRLF = true
	if err := out.Write(csvHeader); err != nil {
		return 0, b.fail("export", err)
	}
	for r, err := range b.Readings(ctx, filter) {
		if err != nil {
			return count, err
		}
		if err := out.Write(csvRecord(r)); err != nil {
			return count, b.fail("export", err)
		}
		count++
	}
	out.Flush()
	return count, b.fail("export", out.Error())
}

func csvRecord(r TaggedReading) []string {
	t := r.Tag.visible()
	value := r.Digits.String()
	if !r.Digits.Known() {
		value = strconv.FormatFloat(r.Value, 'g', -1, 64)
	}
	u := ""
	if r.StandardUncertainty > 0 {
		u = strconv.FormatFloat(r.StandardUncertainty, 'g', -1, 64)
	}
	return []string{
		r.At.Format(csvTime), t.Bench, string(t.Console), string(t.Unit), string(t.TestPoint), t.Instrument,
		string(t.Measure), value, r.Tag.Measure.Unit().Symbol, u,
	}
}

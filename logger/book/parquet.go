package book

import (
	"context"
	"io"

	"github.com/parquet-go/parquet-go"
)

// parquetReading is a row of a Parquet file, as ExportParquet says. Names repeat, so
// that they are kept as a dictionary; times grow by little.
type parquetReading struct {
	Time       int64    `parquet:"time,timestamp(microsecond:utc),delta"`
	Bench      string   `parquet:"bench,dict"`
	Console    string   `parquet:"console,dict"`
	Unit       string   `parquet:"unit,dict"`
	TestPoint  string   `parquet:"test_point,dict"`
	Instrument string   `parquet:"instrument,dict"`
	Measure    string   `parquet:"measure,dict"`
	Value      float64  `parquet:"value"`
	Digits     *string  `parquet:"digits,optional"`
	UnitSymbol string   `parquet:"unit_symbol,dict"`
	U          *float64 `parquet:"u,optional"`
}

const (
	// parquetGroup is how many readings are in a row group, which is written whole.
	parquetGroup = 65536
	// parquetChunk is how many are handed over at once.
	parquetChunk = 1024
)

// ExportParquet writes the readings that match a filter in time order as Apache
// Parquet with zstd, and returns how many there were: time (UTC, microseconds), the
// names of the tag as they are, value (the float64), digits (as the instrument sent
// them; null for a computed figure), unit_symbol and u (one standard uncertainty;
// null where none is known). Memory is that of one row group whatever the number of
// readings. Progress, if not nil, is told how many are written.
func (b *Book) ExportParquet(ctx context.Context, w io.Writer, filter Filter, progress func(readings int64)) (int64, error) {
	out := parquet.NewGenericWriter[parquetReading](w, parquet.Compression(&parquet.Zstd),
		parquet.MaxRowsPerRowGroup(parquetGroup), parquet.CreatedBy("soakline", b.options.Program, ""))
	var count int64
	chunk := make([]parquetReading, 0, parquetChunk)
	flush := func() error {
		n, err := out.Write(chunk)
		count += int64(n)
		chunk = chunk[:0]
		if progress != nil {
			progress(count)
		}
		return b.fail("export", err)
	}
	for r, err := range b.Readings(ctx, filter) {
		if err != nil {
			return count, err
		}
		if chunk = append(chunk, parquetRow(r)); len(chunk) < cap(chunk) {
			continue
		}
		if err := flush(); err != nil {
			return count, err
		}
	}
	if err := flush(); err != nil {
		return count, err
	}
	return count, b.fail("export", out.Close())
}

func parquetRow(r TaggedReading) parquetReading {
	row := parquetReading{
		Time: r.At.UnixMicro(), Bench: r.Tag.Bench, Console: string(r.Tag.Console), Unit: string(r.Tag.Unit),
		TestPoint: string(r.Tag.TestPoint), Instrument: r.Tag.Instrument, Measure: string(r.Tag.Measure),
		Value: r.Value, UnitSymbol: r.Tag.Measure.Unit().Symbol,
	}
	if r.Digits.Known() {
		digits := r.Digits.String()
		row.Digits = &digits
	}
	if r.StandardUncertainty > 0 {
		row.U = &r.StandardUncertainty
	}
	return row
}

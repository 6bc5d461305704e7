package book

import (
	"bytes"
	"errors"
	"io"
	"math"
	"strings"
	"testing"
	"time"

	"github.com/parquet-go/parquet-go"

	"soakline/device"
)

// readParquet reads a file with the library's reader, which makes the columns out
// of what the file says of itself.
func readParquet(t *testing.T, text []byte) []map[string]any {
	t.Helper()
	file, err := parquet.OpenFile(bytes.NewReader(text), int64(len(text)))
	must(t, err)
	reader := parquet.NewReader(file)
	if said := file.Schema().String(); !strings.Contains(said, "int64 time (TIMESTAMP(isAdjustedToUTC=true,unit=MICROS))") {
		t.Errorf("the file says of its times: %s", said)
	}
	var rows []map[string]any
	for {
		row := make(map[string]any)
		err := reader.Read(&row)
		if errors.Is(err, io.EOF) {
			return rows
		}
		must(t, err)
		rows = append(rows, row)
	}
}

// TestParquetTellsTheBook: the library reads back every figure to the last bit, the
// digits, the time to the microsecond, and null where nothing is known.
func TestParquetTellsTheBook(t *testing.T) {
	b := openNew(t)
	third := TaggedReading{rail, device.Reading{Measure: rail.Measure, Value: 1.0 / 3, At: begin.Add(time.Second)}}
	accurate := digits(t, rail, time.Minute, "5.01210")
	accurate.StandardUncertainty = 0.00125
	write(t, b, digits(t, rail, 0, "-0"), third, accurate, digits(t, rail, time.Hour, "1.23456789012345678E-300"))
	var text bytes.Buffer
	n, err := b.ExportParquet(t.Context(), &text, Filter{}, nil)
	if n != 4 || err != nil {
		t.Fatalf("%d readings (%v)", n, err)
	}
	rows, kept := readParquet(t, text.Bytes()), readAll(t, b, Filter{})
	if len(rows) != len(kept) {
		t.Fatalf("%d rows, want %d", len(rows), len(kept))
	}
	for i, r := range kept {
		row := rows[i]
		if row["time"] != r.At.UnixMicro() {
			t.Errorf("row %d: time %v, want %v", i, row["time"], r.At)
		}
		if v, ok := row["value"].(float64); !ok || math.Float64bits(v) != math.Float64bits(r.Value) {
			t.Errorf("row %d: value %v, want %v", i, row["value"], r.Value)
		}
		if row["unit"] != "B8-0147" || row["test_point"] != "rail-5v" || row["measure"] != "dc-voltage" || row["unit_symbol"] != "V" {
			t.Errorf("row %d: %v", i, row)
		}
		if want := r.Digits.String(); r.Digits.Known() && row["digits"] != want || !r.Digits.Known() && row["digits"] != nil {
			t.Errorf("row %d: digits %v, want %q", i, row["digits"], want)
		}
		if u, known := row["u"].(float64); known != (r.StandardUncertainty > 0) || known && u != r.StandardUncertainty {
			t.Errorf("row %d: u %v, want %v", i, row["u"], r.StandardUncertainty)
		}
	}
}

// TestParquetOfARange: only what matches is in the file, in several row groups.
func TestParquetOfARange(t *testing.T) {
	b := openNew(t)
	fillWith(t, b, 200_000, time.Microsecond)
	filter := Filter{TestPoint: "tp-c", Since: begin.Add(time.Minute), Until: begin.Add(15 * time.Minute)}
	want, err := b.Count(t.Context(), filter)
	must(t, err)
	var text bytes.Buffer
	told := int64(0)
	n, err := b.ExportParquet(t.Context(), &text, filter, func(n int64) { told = n })
	if n != want || told != want || want == 0 || err != nil {
		t.Errorf("%d readings, told of %d, want %d (%v)", n, told, want, err)
	}
	var all bytes.Buffer
	n, err = b.ExportParquet(t.Context(), &all, Filter{}, nil)
	if n != 200_000 || err != nil {
		t.Fatalf("%d readings (%v)", n, err)
	}
	file, err := parquet.OpenFile(bytes.NewReader(all.Bytes()), int64(all.Len()))
	must(t, err)
	if groups := len(file.RowGroups()); file.NumRows() != n || groups != 4 {
		t.Errorf("%d rows in %d groups, want %d in 4", file.NumRows(), groups, n)
	}
	t.Logf("%.2f bytes a reading", float64(all.Len())/float64(n))
}

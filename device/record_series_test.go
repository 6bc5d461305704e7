package device

import (
	"bytes"
	"compress/gzip"
	"errors"
	"math"
	"slices"
	"strings"
	"testing"
	"time"
)

const exported = "time,bench,console,unit,test_point,instrument,measure,value,unit_symbol,u\r\n" +
	"2026-11-25T14:00:00.000000Z,pier,Brambling 8,B8-0147,rail-5v,meter,dc-voltage,5.0121,V,0.002\r\n" +
	"2026-11-25T14:00:00.500000Z,pier,Brambling 8,B8-0147,case,thermometer,temperature,31.5,°C,\r\n" +
	"2026-11-25T14:00:01.250000Z,pier,Brambling 8,B8-0147,rail-5v,meter,dc-voltage,50119E-4,V,\r\n"

func TestReadSeries(t *testing.T) {
	begin := time.Date(2026, 11, 25, 14, 0, 0, 0, time.UTC)
	tests := []struct {
		name string
		text string
		opts SeriesOptions
		want Series
	}{
		{"seconds as they come", "time_s,value\n0,1\n0.3,2\n0.3,3\n9,4\n", SeriesOptions{}, Series{Seconds: []float64{0, 0.3, 0.3, 9}, Values: []float64{1, 2, 3, 4}}},
		{"a zero of its own", "-5;1,5\n7;2,5\n", SeriesOptions{}, Series{Seconds: []float64{-5, 7}, Values: []float64{1.5, 2.5}}},
		{"units in the header", "t (ms),U (mV)\n0,1500\n250,2500\n", SeriesOptions{}, Series{Seconds: []float64{0, 0.25}, Values: []float64{1.5, 2.5}, Unit: Volt}},
		{"what it holds is said", "time_s,value\n0,20\n9,21\n", SeriesOptions{Measure: Temperature}, Series{Seconds: []float64{0, 9}, Values: []float64{20, 21}, Unit: Celsius}},
		{"one column", "1\n2\n", SeriesOptions{Table: RecordOptions{SampleRateHertz: 4}}, Series{Seconds: []float64{0, 0.25}, Values: []float64{1, 2}}},
		{"a scale is in volts", "0,1\n3,2\n", SeriesOptions{Table: RecordOptions{VoltsPerUnit: -2}}, Series{Seconds: []float64{0, 3}, Values: []float64{-2, -4}, Unit: Volt}},
		{"moments", "time,value\n2026-11-25T14:00:00Z,1\n2026-11-25T15:00:01+01:00,2\n", SeriesOptions{}, Series{Begin: begin, Seconds: []float64{0, 1}, Values: []float64{1, 2}}},
		{"moments of what is said", "time,value\n2026-11-25T14:00:00Z,1\n2026-11-25T14:00:01Z,2\n", SeriesOptions{Measure: Ripple}, Series{Begin: begin, Seconds: []float64{0, 1}, Values: []float64{1, 2}, Unit: Volt}},
		{"one series of the book's", exported, SeriesOptions{TestPoint: "rail-5v"}, Series{Begin: begin, Seconds: []float64{0, 1.25}, Values: []float64{5.0121, 5.0119}, Unit: Volt}},
		{"by its measure", exported, SeriesOptions{Measure: DCVoltage, TestedUnit: "B8-0147"}, Series{Begin: begin, Seconds: []float64{0, 1.25}, Values: []float64{5.0121, 5.0119}, Unit: Volt}},
		{"times that are numbers under the same names", "time,value\n0,1\n7,2\n", SeriesOptions{}, Series{Seconds: []float64{0, 7}, Values: []float64{1, 2}}},
	}
	for _, tt := range tests {
		for _, zipped := range []bool{false, true} {
			text := []byte(tt.text)
			if zipped {
				text = gzipped(t, text)
			}
			got, err := ReadSeries(bytes.NewReader(text), "x.csv", tt.opts)
			if err != nil {
				t.Errorf("%s: %v", tt.name, err)
				continue
			}
			if !got.Begin.Equal(tt.want.Begin) || !slices.Equal(got.Seconds, tt.want.Seconds) || !slices.Equal(got.Values, tt.want.Values) || got.Unit != tt.want.Unit {
				t.Errorf("%s:\n got %+v\nwant %+v", tt.name, got, tt.want)
			}
		}
	}
}

func gzipped(t *testing.T, text []byte) []byte {
	t.Helper()
	var out bytes.Buffer
	w := gzip.NewWriter(&out)
	_, err := w.Write(text)
	if err = errors.Join(err, w.Close()); err != nil {
		t.Fatal(err)
	}
	return out.Bytes()
}

func TestReadSeriesRefuses(t *testing.T) {
	tests := []struct {
		name, text string
		opts       SeriesOptions
		want       string
	}{
		{"empty", "", SeriesOptions{}, "x.csv: the file is empty"},
		{"one reading", "time_s,value\n0,1\n", SeriesOptions{}, "one sample only"},
		{"back in time", "0,1\n9,1\n8,1\n", SeriesOptions{}, "x.csv, line 3: the time goes back from 9 s to 8 s"},
		{"a word", "time_s,value\n0,1\n1,two\n2,3\n3,3\n4,3\n", SeriesOptions{}, `x.csv, line 3: the value "two" is no number`},
		{"not a number", "0,1\n1,NaN\n2,1\n", SeriesOptions{}, `line 2: the value is "NaN"`},
		{"cut off", "0,1\n1,2\n2,", SeriesOptions{}, "line 3: the file breaks off in this line after 2 whole samples"},
		{"too large", "0,1e308\n1,1\n", SeriesOptions{Table: RecordOptions{VoltsPerUnit: 10}}, "value 1 is too large"},
		{"no times", "1\n2\n", SeriesOptions{}, "give the sample rate"},
		{"several series", exported, SeriesOptions{}, "x.csv: 2 series of readings: pick one by its unit, test point and measure; the file has B8-0147 rail-5v dc-voltage, B8-0147 case temperature"},
		{"none of that name", exported, SeriesOptions{TestPoint: "rail-9v"}, "no reading is what was asked for; the file has B8-0147 rail-5v dc-voltage"},
		{"one of that name", exported, SeriesOptions{TestPoint: "case"}, "one reading only"},
		{"header only", "time,value\n", SeriesOptions{}, "no readings"},
		{"odd moment", "time,value\n2026-11-25T14:00:00Z,1\nnoon,2\n", SeriesOptions{}, `line 3: the time "noon" is no moment`},
		{"back to an earlier moment", "time,value\n2026-11-25T14:00:00Z,1\n2026-11-25T13:59:59Z,2\n", SeriesOptions{}, "line 3: the time goes back"},
		{"infinite", "time,value\n2026-11-25T14:00:00Z,1\n2026-11-25T14:00:01Z,1e999\n", SeriesOptions{}, `line 3: the value "1e999" is not a finite number`},
		{"a cell less", "time,value\n2026-11-25T14:00:00Z,1\n2026-11-25T14:00:01Z\n", SeriesOptions{}, "line 3: wrong number of fields"},
		{"odd measure", "0,1\n", SeriesOptions{Measure: "flavour"}, `unknown measure "flavour"`},
		{"odd rate", "0,1\n", SeriesOptions{Table: RecordOptions{SampleRateHertz: -1}}, "sample rate -1 Hz"},
	}
	for _, tt := range tests {
		t.Run(tt.name, func(t *testing.T) {
			got, err := ReadSeries(strings.NewReader(tt.text), "x.csv", tt.opts)
			if err == nil {
				t.Fatalf("read as %+v", got)
			}
			if !strings.Contains(err.Error(), tt.want) {
				t.Errorf("%q does not say %q", err, tt.want)
			}
			if _, ok := errors.AsType[*RecordError](err); !ok {
				t.Errorf("%T is no RecordError", err)
			}
		})
	}
}

// FuzzReadSeries holds that whatever the file is, reading it ends in finite readings
// whose times do not go back, or in a RecordError.
func FuzzReadSeries(f *testing.F) {
	for _, seed := range []string{exported, "time_s,value\n0,1\n0.3,2\n", "time,value\n2026-11-25T14:00:00Z,1\n", "\x1f\x8b", "time,value,\"\n\"x\n1,2\n", "t;v\n0,0;1\n"} {
		f.Add([]byte(seed), "", "", 0.0)
	}
	f.Add([]byte(exported), "rail-5v", "dc-voltage", 2.0)
	f.Fuzz(func(t *testing.T, file []byte, point, measure string, scale float64) {
		got, err := ReadSeries(bytes.NewReader(file), "fuzz.csv", SeriesOptions{TestPoint: point, Measure: Measure(measure), Table: RecordOptions{VoltsPerUnit: scale}})
		if err != nil {
			if _, ok := errors.AsType[*RecordError](err); !ok {
				t.Fatalf("%T: %v", err, err)
			}
			return
		}
		if len(got.Values) < 2 || len(got.Seconds) != len(got.Values) || !slices.IsSorted(got.Seconds) {
			t.Fatalf("%d values at %v", len(got.Values), got.Seconds)
		}
		for _, v := range slices.Concat(got.Values, got.Seconds) {
			if math.IsNaN(v) || math.IsInf(v, 0) {
				t.Fatalf("figure %v", v)
			}
		}
	})
}

package device

import (
	"bytes"
	"compress/gzip"
	"errors"
	"fmt"
	"io"
	"math"
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"
)

// read reads text as a record named "line.csv".
func read(text string, opts RecordOptions) (Capture, error) {
	return ReadRecord(strings.NewReader(text), "line.csv", opts)
}

func TestReadRecordLayouts(t *testing.T) {
	rate := RecordOptions{SampleRateHertz: 25e6}
	tests := []struct {
		name     string
		text     string
		opts     RecordOptions
		interval float64
		volts    []float64
	}{
		{"bare", "0,1\n4e-8,2\n8e-8,-3\n", RecordOptions{}, 4e-8, []float64{1, 2, -3}},
		{"design's header", "time_s,value\n0,1\n1e-6,2\n", RecordOptions{}, 1e-6, []float64{1, 2}},
		{"no last line ending", "0,1\n1,2\n2,3", RecordOptions{}, 1, []float64{1, 2, 3}},
		{"CR LF", "t,v\r\n0,1\r\n1,2\r\n", RecordOptions{}, 1, []float64{1, 2}},
		{"CR", "t,v\r0,1\r1,2\r", RecordOptions{}, 1, []float64{1, 2}},
		{"blank lines", "\n\nt,v\n\n0,1\n\n1,2\n  \n", RecordOptions{}, 1, []float64{1, 2}},
		{"byte order mark", "\xef\xbb\xbf0,1\n1,2\n", RecordOptions{}, 1, []float64{1, 2}},
		{"semicolon, decimal comma", "Zeit;Kanal\n0,0;1,5\n0,1;-2,5\n", RecordOptions{}, 0.1, []float64{1.5, -2.5}},
		{"semicolon, decimal point", "0.0;1.5\n0.1;-2.5\n", RecordOptions{}, 0.1, []float64{1.5, -2.5}},
		{"tab, decimal comma", "0,0\t1,5\n0,1\t-2,5\n", RecordOptions{}, 0.1, []float64{1.5, -2.5}},
		{"blanks", "  0.0   1.5\n  0.1  -2.5\n", RecordOptions{}, 0.1, []float64{1.5, -2.5}},
		{"blanks, decimal comma", "0,0  1,5\n0,1 -2,5\n", RecordOptions{}, 0.1, []float64{1.5, -2.5}},
		{"blanks, unit in brackets", "# Time (ms)  Level (mV)\n0 100\n1 200\n", RecordOptions{}, 1e-3, []float64{0.1, 0.2}},
		{"comma and blank", "0.0, 1.5\n0.1, -2.5\n", RecordOptions{}, 0.1, []float64{1.5, -2.5}},
		{"quotes", "\"t\",\"v\"\n\"0\",\"1.5\"\n\"1\",\"2.5\"\n", RecordOptions{}, 1, []float64{1.5, 2.5}},
		{"quotes, decimal comma", "\"0,0\",\"1,5\"\n\"0,1\",\"2,5\"\n", RecordOptions{}, 0.1, []float64{1.5, 2.5}},
		{"trailing comma", "0,1,\n1,2,\n", RecordOptions{}, 1, []float64{1, 2}},
		{"two title rows", "x-axis,1\nsecond,Volt\n-1E-3,0.1\n0,0.2\n1E-3,0.3\n", RecordOptions{}, 1e-3, []float64{0.1, 0.2, 0.3}},
		{"milliseconds, millivolts", "Time,Channel\n(ms),(mV)\n\n0,100\n0.5,200\n", RecordOptions{}, 0.5e-3, []float64{0.1, 0.2}},
		{"microseconds", "time_us,volts\n0,1\n2,2\n", RecordOptions{}, 2e-6, []float64{1, 2}},
		{"micro sign", "Time [µs];Volts [V]\n0;1\n2;2\n", RecordOptions{}, 2e-6, []float64{1, 2}},
		{"micro sign in Latin-1", "Time [\xb5s];Volts [V]\n0;1\n2;2\n", RecordOptions{}, 2e-6, []float64{1, 2}},
		{"nanoseconds", "t (ns),v\n0,1\n40,2\n", RecordOptions{}, 40e-9, []float64{1, 2}},
		{"scale goes before the header's", "t,v (mV)\n0,1\n1,2\n", RecordOptions{VoltsPerUnit: 10}, 1, []float64{10, 20}},
		{"settings above", "Model,S2\nSample Interval,4e-08\nVertical Units,mV\nSource,CH1\n0,1000\n4e-08,2000\n", RecordOptions{}, 4e-8, []float64{1, 2}},
		{"settings beside", "Record Length,6,,0,1\nSample Interval,1,,1,2\n,,,2,3\n,,,3,4\n,,,4,5\n,,,5,6\n", RecordOptions{}, 1, []float64{1, 2, 3, 4, 5, 6}},
		{"counted samples, increment in the titles", "X,CH1,Start,Increment\nSequence,Volt,-1e-3,4e-8\n0,1.5,,\n1,2.5,,\n", RecordOptions{}, 4e-8, []float64{1.5, 2.5}},
		{"one column, rate in the settings", "Sample Rate: 1e6\n1\n2\n3\n", RecordOptions{}, 1e-6, []float64{1, 2, 3}},
		{"one column", "1\n2\n3\n", rate, 4e-8, []float64{1, 2, 3}},
		{"one column, codes and a title", "codes\n128\n130\n", RecordOptions{SampleRateHertz: 25e6, VoltsPerUnit: 0.01}, 4e-8, []float64{1.28, 1.30}},
		{"rate goes before times", "0.00,1\n0.00,2\n0.01,3\n", rate, 4e-8, []float64{1, 2, 3}},
		{"value column by number", "0,1,10\n1,2,20\n", RecordOptions{ValueColumn: 3}, 1, []float64{10, 20}},
		{"value column by name", "t,left,right\n0,1,10\n1,2,20\n", RecordOptions{ValueName: "Right"}, 1, []float64{10, 20}},
		{"time column as values", "0,1\n1,2\n", RecordOptions{ValueColumn: 1, SampleRateHertz: 1}, 1, []float64{0, 1}},
	}
	for _, tt := range tests {
		t.Run(tt.name, func(t *testing.T) {
			got, err := read(tt.text, tt.opts)
			if err != nil {
				t.Fatal(err)
			}
			if math.Abs(got.SampleIntervalSeconds-tt.interval) > 1e-9*tt.interval {
				t.Errorf("interval %v, want %v", got.SampleIntervalSeconds, tt.interval)
			}
			near := cmp.Comparer(func(a, b float64) bool { return math.Abs(a-b) <= 1e-12*math.Abs(b) })
			if diff := cmp.Diff(tt.volts, got.Volts, near); diff != "" {
				t.Error(diff)
			}
		})
	}
}

func TestReadRecordRefuses(t *testing.T) {
	rate := RecordOptions{SampleRateHertz: 25e6}
	tests := []struct {
		name string
		text string
		opts RecordOptions
		want string
	}{
		{"empty", "", RecordOptions{}, "line.csv: the file is empty"},
		{"blank", "\n \r\n", RecordOptions{}, "line.csv: the file is empty"},
		{"words", "Lorem ipsum\ndolor sit amet\n", RecordOptions{}, "line.csv: no table of figures"},
		{"one sample", "t,v\n0,1\n", RecordOptions{}, "line.csv: one sample only"},
		{"not a number", "0,1\n1,NaN\n2,3\n", RecordOptions{}, `line.csv, line 2: the value is "NaN"`},
		{"not a number at first", "t,v\n0,NaN\n1,2\n2,3\n", RecordOptions{}, `line.csv, line 2: the value is "NaN"`},
		{"infinite", "0,1\n1,-inf\n2,3\n", RecordOptions{}, `line.csv, line 2: the value is "-inf"`},
		{"too large", "0,1\n1,1e999\n2,3\n", RecordOptions{}, `line 2: the value "1e999" is no number`},
		{"word in the table", "0,1\n1,x\n2,3\n3,4\n", RecordOptions{}, `line 2: the value "x" is no number`},
		{"hexadecimal", "0,1\n1,0x10\n2,3\n", RecordOptions{}, `line 2: the value "0x10" is no number`},
		{"missing value", "0,1\n1,\n2,3\n", RecordOptions{}, "line 2: the value is missing"},
		{"missing column", "0,1\n1\n2,3\n", RecordOptions{}, "line 2: 1 columns, wanted at least 2"},
		{"time goes back", "0,1\n2,2\n1,3\n", RecordOptions{}, "line 3: the time goes back from 2 to 1"},
		{"time runs backwards", "2,1\n1,2\n0,3\n", RecordOptions{}, "line 2: the time goes back"},
		{"time twice", "0,1\n1,2\n1,3\n", RecordOptions{}, "line 3: the time 1 comes twice in a row: if it is printed too coarsely, give the sample rate"},
		{"sample missing", "0.000,1\n0.010,1\n0.020,1\n0.040,1\n", RecordOptions{}, "line 4: the time 0.04 breaks the even spacing of about 0.01"},
		{"first sample missing", "0.000,1\n0.020,1\n0.030,1\n0.040,1\n", RecordOptions{}, "line 3: the time 0.03 breaks the even spacing of about 0.02"},
		{"no times", "1\n2\n3\n", RecordOptions{}, "line.csv: no column of times before the values: give the sample rate"},
		{"counted samples", "sample,v\n0,1\n1,2\n", RecordOptions{}, "give the sample rate"},
		{"comma in one column", "1,5\n2,5\n", rate, "name the value column"},
		{"no such column", "0,1\n1,2\n", RecordOptions{ValueColumn: 3}, "column 3 holds no figures"},
		{"no such name", "t,left\n0,1\n1,2\n", RecordOptions{ValueName: "right"}, `no column named "right": the file names t, left`},
		{"no names at all", "0,1\n1,2\n", RecordOptions{ValueName: "right"}, "the file names no columns"},
		{"UTF-16", "\xff\xfe0\x00,\x001\x00", RecordOptions{}, "line.csv: the text is UTF-16"},
		{"UTF-16 without its mark", "0\x00,\x001\x00\n\x00", RecordOptions{}, "line.csv, line 1: holds a zero byte"},
		{"binary behind a table", "0,1\n1,2\n\x00\x01\x02\n", RecordOptions{}, "line.csv, line 3: holds a zero byte"},
		{"one endless line", strings.Repeat("x", 300<<10), RecordOptions{}, "line.csv, line 1: longer than 65536 bytes"},
		{"broken gzip", "\x1f\x8bnot really", RecordOptions{}, "starts like a gzip file"},
		{"breaks off", "0,1\n1,2\n2", RecordOptions{}, "line 3: the file breaks off in this line after 2 whole samples"},
		{"thousands marks", "0;1.000,5\n1;2.000,5\n", RecordOptions{}, "give the sample rate"},
		{"bad rate", "1\n2\n", RecordOptions{SampleRateHertz: math.NaN()}, "line.csv: sample rate NaN Hz"},
		{"bad scale", "1\n2\n", RecordOptions{VoltsPerUnit: math.Inf(1)}, "scale +Inf V per unit"},
		{"bad column", "1\n2\n", RecordOptions{ValueColumn: -1}, "value column -1"},
		{"two choices", "1\n2\n", RecordOptions{ValueColumn: 1, ValueName: "v"}, "give one of them"},
	}
	for _, tt := range tests {
		t.Run(tt.name, func(t *testing.T) {
			got, err := read(tt.text, tt.opts)
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

func TestReadRecordLeavesACutLineOutOnlyWhenTold(t *testing.T) {
	opts := RecordOptions{LeaveCutLine: true}
	got, err := read("0,1\n1,2\n2", opts)
	if err != nil || len(got.Volts) != 2 {
		t.Errorf("%v, %v", got.Volts, err)
	}
	if _, err := read("0,1\n1\n2,3\n", opts); err == nil {
		t.Error("a short line in the middle was left out")
	}
	if _, err := read("0,1\n1,2\n2\n", opts); err == nil {
		t.Error("a short last line that ends was left out")
	}
}

func TestReadRecordGzip(t *testing.T) {
	var zipped bytes.Buffer
	w := gzip.NewWriter(&zipped)
	fmt.Fprint(w, "\xef\xbb\xbft,v\n0,1\n1,2\n")
	if err := w.Close(); err != nil {
		t.Fatal(err)
	}
	whole := zipped.Bytes()
	got, err := ReadRecord(bytes.NewReader(whole), "line.csv.gz", RecordOptions{})
	if err != nil || len(got.Volts) != 2 {
		t.Errorf("%v, %v", got.Volts, err)
	}
	_, err = ReadRecord(bytes.NewReader(whole[:len(whole)-6]), "line.csv.gz", RecordOptions{})
	if !errors.Is(err, io.ErrUnexpectedEOF) {
		t.Errorf("half a gzip file: %v", err)
	}
}

// brokenReader fails after some good bytes.
type brokenReader struct {
	good io.Reader
	err  error
}

func (r brokenReader) Read(p []byte) (int, error) {
	n, err := r.good.Read(p)
	if err == io.EOF {
		err = r.err
	}
	return n, err
}

func TestReadRecordPassesAReadErrorOn(t *testing.T) {
	gone := errors.New("the stick was pulled")
	for _, n := range []int{0, 1, 20000} {
		r := brokenReader{strings.NewReader(strings.Repeat("1\n", n)), gone}
		if _, err := ReadRecord(r, "line.csv", RecordOptions{SampleRateHertz: 1}); !errors.Is(err, gone) {
			t.Errorf("after %d lines: %v", n, err)
		}
	}
}

func TestReadRecordCoupling(t *testing.T) {
	for text, want := range map[string]string{
		"Coupling,AC\n0,1\n1,2\n":          "ac",
		"Vertical Coupling,dc\n0,1\n1,2\n": "dc",
		"Coupling,GND\n0,1\n1,2\n":         "",
		"0,1\n1,2\n":                       "",
	} {
		if got, err := read(text, RecordOptions{}); err != nil || got.Coupling != want {
			t.Errorf("%q: %q, %v", text, got.Coupling, err)
		}
	}
}

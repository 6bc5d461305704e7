package device

import (
	"bytes"
	"errors"
	"fmt"
	"math"
	"strings"
	"testing"
)

// FuzzReadRecord holds that whatever the file is, reading it ends in a record of
// finite samples evenly spaced or in a RecordError, and that such a record is read
// back as the same when it is printed plainly.
func FuzzReadRecord(f *testing.F) {
	for _, seed := range []string{
		"0,1\n1,2\n", "t;v\n0,0;1,5\n0,1;2\n", "X,CH1,Start,Increment\nSequence,Volt,0,4e-8\n0,1,,\n1,2,,\n",
		"\xef\xbb\xbf0 1\r1 2\r\n", "\x1f\x8b", "a,1,,0,1\nb,2,,1,2\n", "\"0,0\",\"1\"\n\"1,5\",\"2\"\n", "0,NaN\n",
	} {
		f.Add([]byte(seed), 0.0, 0)
	}
	f.Fuzz(func(t *testing.T, file []byte, rate float64, column int) {
		got, err := ReadRecord(bytes.NewReader(file), "fuzz.csv", RecordOptions{SampleRateHertz: rate, ValueColumn: column})
		if err != nil {
			if _, ok := errors.AsType[*RecordError](err); !ok {
				t.Fatalf("%T: %v", err, err)
			}
			return
		}
		if len(got.Volts) < 2 || !(got.SampleIntervalSeconds > 0) || math.IsInf(got.SampleIntervalSeconds, 0) {
			t.Fatalf("%d samples every %v s", len(got.Volts), got.SampleIntervalSeconds)
		}
		var plain strings.Builder
		for _, v := range got.Volts {
			if math.IsNaN(v) || math.IsInf(v, 0) {
				t.Fatalf("sample %v", v)
			}
			fmt.Fprintf(&plain, "%v\n", v)
		}
		again, err := read(plain.String(), RecordOptions{SampleRateHertz: 1})
		if err != nil || len(again.Volts) != len(got.Volts) {
			t.Fatalf("%d samples printed, %d read back, %v", len(got.Volts), len(again.Volts), err)
		}
		for i, v := range again.Volts {
			if v != got.Volts[i] {
				t.Fatalf("sample %d: %v read back as %v", i, got.Volts[i], v)
			}
		}
	})
}

package book

import (
	"math"
	"testing"
	"time"
)

// TestEnvelopesAreExact compares each bucket with the readings in it, one by one:
// blocks, tail, times going back, figures without digits.
func TestEnvelopesAreExact(t *testing.T) {
	b := openNew(t)
	write(t, b, newWorkload(4).read(70_000)...)
	late := newWorkload(5).read(30_000)
	for i := range late {
		late[i].At = late[i].At.Add(100 * time.Second)
	}
	write(t, b, late...)
	for _, n := range []int{1, 3, 100, 7000} {
		envelopes, err := b.Envelopes(t.Context(), Filter{}, n)
		if err != nil || len(envelopes) != 16 {
			t.Fatal(len(envelopes), err)
		}
		for _, e := range envelopes[:3] {
			readings := readAll(t, b, Filter{TestPoint: e.Tag.TestPoint})
			for _, bucket := range e.Buckets {
				var s summary
				for len(readings) > 0 && readings[0].At.Before(bucket.Until) {
					s.add(summary{count: 1, low: readings[0].Value, high: readings[0].Value, sum: readings[0].Value})
					readings = readings[1:]
				}
				same := s.count == bucket.Count && (s.count == 0 && math.IsNaN(bucket.Mean) || s.low == bucket.Low && s.high == bucket.High &&
					math.Abs(bucket.Mean-s.sum/float64(s.count)) < 1e-9)
				if !same {
					t.Fatalf("%d buckets, %s: %+v, want %+v", n, e.Tag.TestPoint, bucket, s)
				}
			}
			if len(readings) > 0 {
				t.Errorf("%d readings are in no bucket", len(readings))
			}
		}
	}
}

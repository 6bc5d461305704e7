package logger

import (
	"time"

	"soakline/checks"
	"soakline/device"
	"soakline/logger/book"
)

// Of the records that a soak takes the book keeps those at its begin and end,
// those at which a check of the test point changed its state, and one every so
// often. The bounds hold a flapping check at 24 h and 100 kB a record to 150 MB
// (common practice, no source).
const (
	// keepEvery is how long after the last kept record the next one is kept.
	keepEvery = 10 * time.Minute
	// keepChangeEvery is the least time between two that are kept for a change.
	keepChangeEvery = time.Minute
	// keepAtMost is how many are kept of one test point of one soak, besides the
	// last.
	keepAtMost = 1500
)

// lostRecord is the cause of records that should have been kept and were not.
const lostRecord = "record not kept"

// recordKeeping is what is known about the records of one test point of a soak.
type recordKeeping struct {
	begun, changed       bool
	kept                 int
	lastKept, lastChange time.Time
	instrument           string
	latest               device.Capture
}

// due says why the record that was taken at a moment is kept; empty if it is not.
func (k *recordKeeping) due(at time.Time) book.CaptureKind {
	switch {
	case k.kept >= keepAtMost:
		return ""
	case !k.begun:
		return book.CaptureBegin
	case k.changed && at.Sub(k.lastChange) >= keepChangeEvery:
		return book.CaptureChange
	case at.Sub(k.lastKept) >= keepEvery:
		return book.CaptureTimed
	default:
		return ""
	}
}

// keepRecord keeps a record if it is one of those that are kept.
func (b *Bench) keepRecord(r *route, record device.Capture) {
	k := r.soak.recordsOf(r.point.Name)
	k.instrument, k.latest = r.tag.Instrument, record
	kind := k.due(record.At)
	if kind == "" {
		return
	}
	if kind == book.CaptureChange || kind == book.CaptureBegin {
		k.lastChange = record.At
	}
	k.begun, k.changed, k.lastKept = true, false, record.At
	k.kept++
	b.putRecord(r.soak, r.point.Name, k, kind)
}

// keepLastRecords keeps the latest record of every test point of a soak that ends.
func (b *Bench) keepLastRecords(soak *liveSoak) {
	for point, k := range soak.records {
		if len(k.latest.Volts) > 0 {
			b.putRecord(soak, point, k, book.CaptureEnd)
		}
	}
}

// putRecord has the latest record written. While the book cannot be written
// records are not held, as they would fill the memory.
func (b *Bench) putRecord(soak *liveSoak, point checks.TestPointName, k *recordKeeping, kind book.CaptureKind) {
	err := b.writer.Health().Err
	if err == nil {
		err = b.writer.PutCapture(book.KeptCapture{Soak: soak.id, TestPoint: point, Instrument: k.instrument, Kind: kind}, k.latest)
	}
	if err != nil {
		b.Counters.lost(lostRecord)
		b.options.Log.Error("a scope record did not get into the book", "unit", soak.unit, "test_point", point, "kind", kind, "error", err)
	}
}

// recordsOf is the keeping of one test point.
func (s *liveSoak) recordsOf(point checks.TestPointName) *recordKeeping {
	k := s.records[point]
	if k == nil {
		k = &recordKeeping{}
		s.records[point] = k
	}
	return k
}

package checks

import "time"

// stamp is a moment in whole microseconds since 1970, UTC: what a reading's time
// is kept to. Judging counts in stamps, so that wall clock, monotonic clock and
// time zone can't make two judgements of one record differ.
type stamp int64

// span is a length of time in microseconds.
type span = stamp

func stampOf(t time.Time) stamp { return stamp(t.UnixMicro()) }

func spanOf(d time.Duration) span { return span(d / time.Microsecond) }

func (s stamp) time() time.Time { return time.UnixMicro(int64(s)).UTC() }

func (s stamp) duration() time.Duration { return time.Duration(s) * time.Microsecond }

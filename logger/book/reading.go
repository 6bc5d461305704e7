package book

import (
	"fmt"
	"math"

	"soakline/device"
)

// TaggedReading is a reading with where it comes from. Tag.Measure and the
// reading's own Measure are the same.
type TaggedReading struct {
	Tag Tag
	device.Reading
}

// check says why a reading cannot be kept.
func (r *TaggedReading) check() error {
	if r.Measure != r.Tag.Measure {
		return fmt.Errorf("%w: measure %q under the tag of %q", ErrInvalid, r.Measure, r.Tag.Measure)
	}
	if r.At.IsZero() {
		return fmt.Errorf("%w: it has no time", ErrInvalid)
	}
	if us := r.At.UnixMicro(); us >= maxMicro || us <= -maxMicro {
		return fmt.Errorf("%w: its time, %v, is not from 1678 to 2261", ErrInvalid, r.At)
	}
	_, err := toFigure(&r.Reading)
	return err
}

// maxMicro bounds times to what nanoseconds in 64 bits can tell, as exports write them,
// with some room.
const maxMicro = math.MaxInt64/1000 - 1e12

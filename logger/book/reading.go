package book

import (
	"fmt"

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
	_, err := toFigure(&r.Reading)
	return err
}

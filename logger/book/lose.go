package book

import (
	"time"

	"soakline/device"
)

// Lose writes that a reading of a series had been taken but did not reach
// Append: when, and why. It never waits.
func (w *Writer) Lose(tag Tag, at time.Time, cause string) {
	w.mu.Lock()
	defer w.mu.Unlock()
	w.lose(TaggedReading{Tag: tag, Reading: device.Reading{Measure: tag.Measure, At: at}}, cause)
}

package logger

import (
	"context"
	"fmt"
	"iter"
	"slices"
	"strings"
	"time"

	"soakline/checks"
	"soakline/checks/drift"
	"soakline/device"
	"soakline/logger/book"
)

// watchDrift passes a reading to the drift watch of its check, if there is one. An
// alarm is an event; the verdict is the limits' alone.
func (b *Bench) watchDrift(soak *liveSoak, point checks.TestPointName, r device.Reading) {
	watch := soak.drifts[checks.CheckKey{TestPoint: point, Measure: r.Measure}]
	if watch == nil {
		return
	}
	for _, alarm := range watch.Observe(r) {
		b.record(driftEvent(soak.unit, watch, alarm))
	}
}

// driftEvent says in words what an alarm means.
func driftEvent(unit checks.UnitID, watch *checks.DriftWatch, alarm drift.Alarm) device.Event {
	return device.Event{Instrument: programName, Kind: device.Drifting, At: alarm.At,
		Text: string(unit) + ": " + watch.Standing(alarm.At).AlarmText(alarm)}
}

// feeding passes readings on and shows them to the drift watches, which tell
// nothing: what they find was told when the readings came.
func feeding(readings iter.Seq[checks.Tagged], watches map[checks.CheckKey]*checks.DriftWatch) iter.Seq[checks.Tagged] {
	return func(yield func(checks.Tagged) bool) {
		for tagged := range readings {
			if watch := watches[checks.CheckKey{TestPoint: tagged.TestPoint, Measure: tagged.Reading.Measure}]; watch != nil {
				watch.Observe(tagged.Reading)
			}
			if !yield(tagged) {
				return
			}
		}
	}
}

// tellMissedAlarms records the alarms of a soak taken up again whose event had not
// got into the book when the program ended.
func (b *Bench) tellMissedAlarms(ctx context.Context, soak *liveSoak) error {
	for key, watch := range soak.drifts {
		for _, alarm := range watch.Alarms() {
			told, err := b.options.Book.Events(ctx, b.settings.Bench, alarm.At, alarm.At.Add(time.Microsecond))
			if err != nil {
				return err
			}
			e := driftEvent(soak.unit, watch, alarm)
			about := fmt.Sprintf("%s: %s", soak.unit, key.TestPoint)
			if !slices.ContainsFunc(told, func(kept book.Event) bool {
				return kept.Kind == e.Kind && strings.HasPrefix(kept.Text, about) && strings.Contains(kept.Text, checks.RaisedBy(alarm.Kind))
			}) {
				b.record(e)
			}
		}
	}
	return nil
}

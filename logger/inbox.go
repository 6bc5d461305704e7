package logger

import (
	"soakline/checks"
	"soakline/device"
	"soakline/logger/book"
)

// delivery is what an instrument sends to the owner: a reading, a capture or an
// event.
type delivery struct {
	instrument, channel string
	reading             device.Reading
	capture             *device.Capture
	// reduced is what the capture says where that takes long to find out.
	reduced []reducedFor
	event   *device.Event
}

var _ device.Sink = (*Bench)(nil)

// mostRecords is how many scope records may wait: one can be a megabyte.
const mostRecords = 64

// lostInbox is the cause of readings that the owner had no time for.
const lostInbox = "bench too busy"

// TakeReading takes a reading from an instrument's goroutine. It never waits: if
// the owner cannot keep up, the reading is lost, counted, and missing from the
// evidence.
func (b *Bench) TakeReading(instrument, channel string, r device.Reading) {
	select {
	case b.inbox <- delivery{instrument: instrument, channel: channel, reading: r}:
	default:
		b.lose(instrument, channel, r)
	}
}

// TakeCapture takes a scope record likewise.
func (b *Bench) TakeCapture(instrument, channel string, c device.Capture) {
	if b.records.Add(1) <= mostRecords {
		select {
		case b.inbox <- delivery{instrument: instrument, channel: channel, capture: &c, reduced: b.reduceRipples(instrument, channel, c)}:
			return
		default:
		}
	}
	b.records.Add(-1)
	b.lose(instrument, channel, device.Reading{At: c.At})
}

// TakeEvent takes an event likewise; one that finds no room is counted and in the
// log all the same.
func (b *Bench) TakeEvent(e device.Event) {
	b.Counters.event(e)
	select {
	case b.inbox <- delivery{event: &e}:
	default:
		b.options.Log.Warn("an event was not recorded: bench too busy", "instrument", e.Instrument, "kind", e.Kind, "text", e.Text)
	}
}

// lose counts a reading that was taken but cannot be judged, and writes the loss
// under every check that it would have served.
func (b *Bench) lose(instrument, channel string, r device.Reading) {
	b.Counters.lost(lostInbox)
	for _, route := range b.routes.Load().of(instrument, channel, r.Measure) {
		tag := route.tag
		for _, measure := range route.measures(r.Measure) {
			tag.Measure = measure
			b.writer.Lose(tag, r.At, lostInbox)
		}
		b.losses.add(route, r.At)
	}
}

// take is the owner's part: judge, tag, keep.
func (b *Bench) take(d delivery) {
	switch {
	case d.event != nil:
		b.note(*d.event)
		b.noteIdentity(*d.event)
	case d.capture != nil:
		b.records.Add(-1)
		b.tellLosses(d.capture.At)
		b.takeCapture(d)
	default:
		b.tellLosses(d.reading.At)
		b.takeReading(d)
	}
}

// takeReading tags a reading for every check that it serves.
func (b *Bench) takeReading(d delivery) {
	b.hear(d)
	for _, route := range b.routes.Load().of(d.instrument, d.channel, d.reading.Measure) {
		r := d.reading
		r.StandardUncertainty = checks.FromAccuracy(route.accuracy, r.Value, r.Digits.Resolution())
		b.judge(route, r)
	}
}

// judge passes one tagged reading to the soak's judgement and to the book.
func (b *Bench) judge(route *route, r device.Reading) {
	if r.At.After(route.soak.judgement.PlannedEnd()) {
		return // it was on its way when the soak's time was up; nobody asks for it any more
	}
	if r.At.Before(route.soak.begin) {
		return // it was on its way when the soak began: it is of whatever was there before
	}
	tag := route.tag
	tag.Measure = r.Measure
	b.Counters.reading(tag, r)
	if err := b.writer.Append(book.TaggedReading{Tag: tag, Reading: r}); err != nil {
		route.soak.judgement.Lost(checks.Loss{TestPoint: tag.TestPoint, From: r.At, To: r.At, Readings: 1, Cause: err.Error()})
		return
	}
	b.changed(route.soak, route.soak.judgement.Observe(tag.TestPoint, r))
	b.watchDrift(route.soak, tag.TestPoint, r)
	route.soak.power.follow(tag.TestPoint, r)
	route.soak.loads.note(tag.TestPoint, r)
}

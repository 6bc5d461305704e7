package logger

import (
	"context"
	"errors"
	"fmt"
	"slices"

	"soakline/device"
)

// tap lets readings of one input be heard beside whatever else becomes of them.
type tap struct {
	at       input
	readings chan device.Reading
}

// tapSize is how many readings may wait in a tap; what finds no room was not
// needed, a round takes the latest.
const tapSize = 64

// hear passes a reading to those who listen to its input. It never waits.
func (b *Bench) hear(d delivery) {
	for _, t := range b.taps {
		if t.at == (input{d.instrument, d.channel}) {
			select {
			case t.readings <- d.reading:
			default:
			}
		}
	}
}

// tapInput begins to listen to an input; stop ends it.
func (b *Bench) tapInput(ctx context.Context, at input) (t *tap, stop func() error, err error) {
	t = &tap{at: at, readings: make(chan device.Reading, tapSize)}
	if err := b.ask(ctx, func() { b.taps = append(b.taps, t) }); err != nil {
		return nil, nil, err
	}
	return t, func() error {
		return b.ask(context.WithoutCancel(ctx), func() {
			b.taps = slices.DeleteFunc(b.taps, func(other *tap) bool { return other == t })
		})
	}, nil
}

// listen takes what an instrument says unasked until it has settled.
func (w *pointWork) listen(ctx context.Context, m device.Measure, accuracy device.Accuracy) {
	t, stop, err := w.bench.tapInput(ctx, input{w.report.Step.Instrument, w.report.Step.Channel})
	if err != nil {
		w.report.Trouble = err
		return
	}
	w.settle(ctx, m, accuracy, func(ctx context.Context) (device.Reading, error) { return w.heard(ctx, t, m) })
	if err := stop(); err != nil && !errors.Is(err, ErrStopped) && w.report.Trouble == nil {
		w.report.Trouble = err
	}
}

// heard waits for the next reading of a measure.
func (w *pointWork) heard(ctx context.Context, t *tap, m device.Measure) (device.Reading, error) {
	ctx, cancel := context.WithTimeout(ctx, roundPatience)
	defer cancel()
	for {
		select {
		case r := <-t.readings:
			if r.Measure == m {
				return r, nil
			}
		case <-ctx.Done():
			return device.Reading{}, fmt.Errorf("%s says nothing of %s: %w", w.report.Step.Instrument, m, ctx.Err())
		}
	}
}

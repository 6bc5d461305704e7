package logger

import (
	"context"
	"errors"
	"fmt"
	"slices"

	"soakline/checks"
	"soakline/device"
)

// thermometerBeside is the step of the thermometer that a capacitor's sheet names as
// the part's; nil where it names none or the place has none.
func thermometerBeside(plan RoundPlan, point checks.TestPoint) *RoundStep {
	if point.Wear == nil || point.Wear.Thermometer == "" {
		return nil
	}
	at := slices.IndexFunc(plan.Steps, func(s RoundStep) bool { return s.Point.Name == point.Wear.Thermometer })
	if at < 0 {
		return nil
	}
	return &plan.Steps[at]
}

// readBeside reads the part's temperature once and keeps it: a capacitance is later
// brought to one temperature by it. A thermometer that does not answer is said, and
// the watch goes on.
func (w *dischargeWatch) readBeside(ctx context.Context) {
	ctx, cancel := context.WithTimeout(ctx, roundPatience)
	defer cancel()
	commands, ok := w.bench.commandsOf(w.beside.Instrument)
	if !ok {
		return // a connection without an instrument is refused when settings are read
	}
	r, err := w.temperature(ctx, commands)
	switch {
	case err == nil:
		tag := w.tag
		tag.TestPoint, tag.Instrument, tag.Measure = w.beside.Point.Name, w.beside.Instrument, device.Temperature
		w.bench.keepBeside(tag, r, commands)
	case !errors.Is(err, context.Canceled):
		w.say(fmt.Sprintf("the temperature beside it, at %s, is not known: %v", w.beside.Point.Name, err))
	}
}

// temperature asks for a reading, or listens for one.
func (w *dischargeWatch) temperature(ctx context.Context, commands *device.CommandSet) (r device.Reading, err error) {
	if _, asks := commands.AskFor(device.Temperature); asks {
		err = w.bench.keepers[w.beside.Instrument].Do(ctx, func(ctx context.Context, s *device.Session) (err error) {
			r, err = s.Read(ctx, w.beside.Channel, device.Temperature)
			return err
		})
		return r, err
	}
	heard, stop, err := w.bench.tapInput(ctx, input{w.beside.Instrument, w.beside.Channel})
	if err != nil {
		return r, err
	}
	for {
		select {
		case r = <-heard.readings:
			if r.Measure == device.Temperature {
				return r, stop()
			}
		case <-ctx.Done():
			return r, errors.Join(ctx.Err(), stop())
		}
	}
}

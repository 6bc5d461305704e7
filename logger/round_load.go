package logger

import (
	"context"
	"errors"

	"soakline/device"
)

var errNoLoad = errors.New("nothing is wired to the test point of the load at this place")

// beside is what the step's records are reduced with. The load of a reservoir
// capacitor is read where the sheet says, right before the records.
func (w *pointWork) beside(ctx context.Context) beside {
	with := besideOf(w.report.Step.Point)
	if commands, ok := w.bench.commandsOf(w.report.Step.Instrument); ok {
		ask, _ := commands.AskFor(device.Ripple)
		with.accuracy = ask.Accuracy
	}
	if plan := w.report.Step.Point.Reservoir; plan == nil || plan.LoadAt == "" {
		return with
	}
	load, err := w.readLoad(ctx)
	if err != nil {
		w.remark("the load current was not read: %v", err)
		with.missed = true
		return with
	}
	with.read(load)
	with.missed = !(load.Value > 0)
	return with
}

// readLoad reads the load current as any other figure of a round.
func (w *pointWork) readLoad(ctx context.Context) (device.Reading, error) {
	at := w.report.Step.Load
	if at == nil {
		return device.Reading{}, errNoLoad
	}
	point, _ := pointOf(w.sheet, at.TestPoint)
	other := &pointWork{bench: w.bench, round: w.round, sheet: w.sheet,
		report: PointReport{Step: RoundStep{Point: point, Instrument: at.Instrument, Channel: at.Channel}}}
	next, stop, err := other.sampling(ctx, device.DCCurrent)
	if err != nil {
		return device.Reading{}, err
	}
	commands, _ := w.bench.commandsOf(at.Instrument)
	_, ask := commandedBy(commands, point, device.DCCurrent)
	if commands.Listen != nil {
		ask.Accuracy = commands.Listen.Accuracy
	}
	other.settle(ctx, device.DCCurrent, ask.Accuracy, next)
	if err := stop(); err != nil {
		return device.Reading{}, err
	}
	if len(other.report.Readings) == 0 {
		return device.Reading{}, other.report.Trouble
	}
	w.report.Remarks = append(w.report.Remarks, other.report.Remarks...)
	return other.report.Readings[0].Reading, nil
}

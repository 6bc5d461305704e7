package logger

import (
	"context"
	"errors"
	"fmt"
	"slices"
	"sync"
	"time"

	"soakline/checks"
	"soakline/checks/reservoir"
	"soakline/device"
	"soakline/logger/book"
)

// How a discharge is watched (common practice, no source).
const (
	// dischargeEvery is how often the voltage is asked for.
	dischargeEvery = 200 * time.Millisecond
	// dischargeFreshFor is how long a reading of it counts.
	dischargeFreshFor = 2 * time.Second
	// dischargeShown is how often the one who watches is told, readings or not.
	dischargeShown = 250 * time.Millisecond
)

// Discharged is the kind of event that says how a watched discharge went.
const Discharged device.Kind = "discharge"

// ErrNoDischarge says that a test point has no voltage to be watched down.
var ErrNoDischarge = errors.New("its sheet has no discharge section")

// WatchDischarge watches the voltage at a unit's capacitor until the context ends
// or show returns false. show is told every quarter of a second how it stands,
// also when no reading comes: then it is not known. Every reading, and every
// change of how it stands, goes into the book, and at the end what it says of the
// capacitor.
func (b *Bench) WatchDischarge(ctx context.Context, unit checks.UnitID, place string, point checks.TestPointName, show func(reservoir.Outlook) bool) error {
	plan, err := b.PlanRound(ctx, unit, place)
	if err != nil {
		return err
	}
	at := slices.IndexFunc(plan.Steps, func(s RoundStep) bool { return s.Point.Name == point })
	if at < 0 {
		return fmt.Errorf("unit %s: %w: sheet %s has no test point %q that is wired here", unit, book.ErrNotFound, plan.Sheet.Name, point)
	}
	step := plan.Steps[at]
	if step.Point.Discharge == nil {
		return fmt.Errorf("unit %s: test point %s: %w", unit, point, ErrNoDischarge)
	}
	asks := step.Point.Discharge
	countdown, err := reservoir.NewCountdown(reservoir.CountdownOptions{BelowVolts: asks.BelowVolts, FreshFor: dischargeFreshFor,
		WatchFor: asks.WatchFor, LoadOhms: asks.LoadOhms, ExpectedTau: asks.TauExpected()})
	if err != nil {
		return fmt.Errorf("unit %s: test point %s: %w", unit, point, err)
	}
	w := &dischargeWatch{bench: b, step: step, beside: thermometerBeside(plan, step.Point), countdown: countdown, show: show, tag: book.Tag{Bench: b.settings.Bench,
		Console: plan.Sheet.Console, Unit: unit, TestPoint: point, Instrument: step.Instrument, Measure: device.DCVoltage}}
	return w.run(ctx)
}

// dischargeWatch is one discharge that is watched.
type dischargeWatch struct {
	bench     *Bench
	step      RoundStep
	beside    *RoundStep // the part's thermometer; nil where there is none
	tag       book.Tag
	countdown *reservoir.Countdown
	show      func(reservoir.Outlook) bool
	phase     reservoir.Phase

	zero           time.Time // of the seconds
	seconds, volts []float64
}

// run takes readings as they come and tells the time in between.
func (w *dischargeWatch) run(ctx context.Context) error {
	ctx, stop := context.WithCancel(ctx)
	commands, ok := w.bench.commandsOf(w.step.Instrument)
	if !ok {
		stop()
		return fmt.Errorf("test point %s: the bench has no instrument %q", w.step.Point.Name, w.step.Instrument)
	}
	tapped, untap, err := w.bench.tapInput(ctx, input{w.step.Instrument, w.step.Channel})
	if err != nil {
		stop()
		return err
	}
	asked := make(chan device.Reading)
	var asking sync.WaitGroup
	if commands.Listen == nil {
		asking.Go(func() { w.ask(ctx, asked) })
	}
	if w.beside != nil {
		asking.Go(func() { w.readBeside(ctx) })
	}
	w.watch(ctx, tapped.readings, asked, commands)
	stop()
	asking.Wait()
	if err := untap(); err != nil && !errors.Is(err, ErrStopped) {
		return errors.Join(err, w.conclude())
	}
	return w.conclude() // a bench that stops takes its taps with it
}

// watch is the loop: it ends with the context or when show says so.
func (w *dischargeWatch) watch(ctx context.Context, heard, asked <-chan device.Reading, commands *device.CommandSet) {
	clock := time.NewTicker(dischargeShown)
	defer clock.Stop()
	for {
		select {
		case r := <-heard:
			// A soak that reads the same point puts its readings into the book itself.
			w.take(r, commands, commands.Listen != nil)
		case r := <-asked:
			w.take(r, commands, true)
		case <-clock.C:
			outlook := w.countdown.Outlook(time.Now())
			w.note(outlook)
			w.bench.Tell(Happening{Kind: DischargeStand, Unit: w.tag.Unit, Check: checks.CheckKey{TestPoint: w.tag.TestPoint, Measure: w.tag.Measure}, Instrument: w.tag.Instrument, Discharge: &outlook})
			if !w.show(outlook) {
				return
			}
		case <-ctx.Done():
			return
		}
	}
}

// ask asks for the voltage again and again. What goes wrong is the instrument's
// event; here it is only a reading that does not come.
func (w *dischargeWatch) ask(ctx context.Context, readings chan<- device.Reading) {
	keeper := w.bench.keepers[w.step.Instrument]
	for pause(ctx, dischargeEvery) == nil {
		var r device.Reading
		err := keeper.Do(ctx, func(ctx context.Context, s *device.Session) (err error) {
			r, err = s.Read(ctx, w.step.Channel, device.DCVoltage)
			return err
		})
		if err != nil {
			continue
		}
		select {
		case readings <- r:
		case <-ctx.Done():
			return
		}
	}
}

// take observes a reading and keeps it.
func (w *dischargeWatch) take(r device.Reading, commands *device.CommandSet, keep bool) {
	if r.Measure != device.DCVoltage {
		return
	}
	w.countdown.Observe(r.At, r.Value)
	w.gather(r)
	if !keep {
		return
	}
	w.bench.keepBeside(w.tag, r, commands)
}

// keepBeside writes a reading that no soak has asked for into the book, with its
// uncertainty by the instrument's accuracy.
func (b *Bench) keepBeside(tag book.Tag, r device.Reading, commands *device.CommandSet) {
	accuracy := device.Accuracy{}
	if ask, ok := commands.AskFor(r.Measure); ok {
		accuracy = ask.Accuracy
	} else if commands.Listen != nil {
		accuracy = commands.Listen.Accuracy
	}
	r.StandardUncertainty = checks.FromAccuracy(accuracy, r.Value, r.Digits.Resolution())
	if err := b.writer.Append(book.TaggedReading{Tag: tag, Reading: r}); err != nil {
		b.Counters.lost(book.LostQueueFull)
	}
}

// note writes a change of how the discharge stands into the book.
func (w *dischargeWatch) note(o reservoir.Outlook) {
	if o.Phase == w.phase {
		return
	}
	w.phase = o.Phase
	w.say(o.Text())
}

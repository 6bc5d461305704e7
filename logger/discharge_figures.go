package logger

import (
	"fmt"
	"time"

	"soakline/checks"
	"soakline/checks/reservoir"
	"soakline/device"
	"soakline/logger/book"
)

// mostAnalysed is how many readings of a discharge are kept for its analysis, an
// hour and more at five a second; of a longer one the first part is analysed.
const mostAnalysed = 20000

// gather keeps a reading for the analysis at the end.
func (w *dischargeWatch) gather(r device.Reading) {
	if len(w.seconds) == 0 {
		w.zero = r.At
	}
	if len(w.seconds) < mostAnalysed {
		w.seconds, w.volts = append(w.seconds, r.At.Sub(w.zero).Seconds()), append(w.volts, r.Value)
	}
}

// conclude analyses what was watched: its findings become events and, where the
// load is known, the capacitance a reading of the test point in the book, at the
// time of the last reading. A watch without readings says nothing.
func (w *dischargeWatch) conclude() error {
	if len(w.seconds) == 0 {
		return nil
	}
	result, err := analyseWatched(w.seconds, w.volts, *w.step.Point.Discharge)
	if err != nil {
		return fmt.Errorf("unit %s: test point %s: %w", w.tag.Unit, w.tag.TestPoint, err)
	}
	for _, f := range result.Findings {
		w.say(f.Text + " " + f.Advice)
	}
	c := result.Capacitance
	if !c.OK() || w.step.Point.Discharge.LoadOhms == 0 {
		return nil
	}
	tag := w.tag
	tag.Measure = device.Capacitance
	at := w.zero.Add(time.Duration(w.seconds[len(w.seconds)-1] * float64(time.Second))).Truncate(time.Microsecond)
	r := device.Reading{Measure: device.Capacitance, Value: c.Value, At: at, StandardUncertainty: c.U}
	if err := w.bench.writer.Append(book.TaggedReading{Tag: tag, Reading: r}); err != nil {
		w.bench.Counters.lost(book.LostQueueFull)
	}
	w.say("capacitance " + checks.Figure(c.Value, c.U, device.Farad) + " by this discharge")
	return nil
}

// say writes an event of the watched test point.
func (w *dischargeWatch) say(text string) {
	w.bench.record(device.Event{Instrument: w.step.Instrument, Kind: Discharged, At: time.Now().Truncate(time.Microsecond),
		Text: fmt.Sprintf("%s %s: %s", w.tag.Unit, w.tag.TestPoint, text)})
}

// analyseWatched measures a watched discharge by its plan. A known load goes before
// the nominal capacitance, which is what is to be told from it.
func analyseWatched(seconds, volts []float64, plan checks.DischargePlan) (reservoir.Discharge, error) {
	o := reservoir.DischargeOptions{BelowVolts: plan.BelowVolts, LoadOhms: plan.LoadOhms, ExpectedTauSeconds: plan.TauExpected().Seconds()}
	if plan.LoadOhms == 0 {
		o.CapacitanceFarads = plan.CapacitanceFarads
	}
	return reservoir.AnalyseDischarge(seconds, volts, o)
}

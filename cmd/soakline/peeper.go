package main

import (
	"errors"
	"fmt"
	"io"
	"math"
	"strconv"
	"strings"
	"time"

	"soakline/checks"
	"soakline/checks/drift"
	"soakline/device"
)

// peeper is a sink that shows readings as they come. Its keeper's goroutine owns
// it until Run has returned.
type peeper struct {
	out, errs io.Writer // out nil shows nothing
	unit      device.Unit
	plain     bool // a line for each reading; else one line, drawn anew
	most      int
	enough    func()

	seen        drift.Stream
	first, last time.Time
	failed      error
}

var _ device.Sink = (*peeper)(nil)

func newPeeper(out, errs io.Writer, unit device.Unit, most int, enough func()) *peeper {
	return &peeper{out: out, errs: errs, unit: unit, plain: !onTerminal(out), most: most, enough: enough}
}

// TakeReading shows a reading, unless there were enough.
func (p *peeper) TakeReading(_, _ string, r device.Reading) {
	if p.most > 0 && p.seen.N() >= p.most {
		return
	}
	if p.seen.N() == 0 {
		p.first = r.At
	}
	p.last = r.At
	p.seen.Add(r.Value)
	p.show(r)
	if p.seen.N() == p.most {
		p.enough()
	}
}

// show writes a reading with the digits that the instrument sent.
func (p *peeper) show(r device.Reading) {
	if p.out == nil {
		return
	}
	text := r.At.Local().Format("15:04:05.000") + "   " + r.Digits.String()
	if p.unit.Symbol != "" {
		text += " " + p.unit.Symbol
	}
	if p.plain {
		fmt.Fprintln(p.out, text)
		return
	}
	fmt.Fprintf(p.out, "\r\x1b[K%s   (%s)", text, p.totals())
}

// TakeCapture takes nothing: no record is asked for.
func (p *peeper) TakeCapture(string, string, device.Capture) {}

// TakeEvent shows trouble. Before the first reading it ends the command: the
// question or the line is wrong.
func (p *peeper) TakeEvent(e device.Event) {
	if e.Kind == device.Opened {
		return
	}
	if p.seen.N() == 0 && e.Kind != device.Overflow {
		if p.failed == nil {
			p.failed = errors.New(e.Text)
		}
		p.enough()
		return
	}
	if !p.plain && p.out != nil {
		fmt.Fprintln(p.out)
	}
	fmt.Fprintf(p.errs, "%s   %s: %s\n", e.At.Local().Format("15:04:05.000"), e.Kind, e.Text)
}

// peekView is the summary as scripts see it; keys with a unit end in it.
type peekView struct {
	N       int      `json:"n"`
	Mean    *float64 `json:"mean"`
	SD      *float64 `json:"sd"`
	RateHz  *float64 `json:"rate_hz"`
	Unit    string   `json:"unit"`
	FirstAt string   `json:"first_at,omitempty"`
	LastAt  string   `json:"last_at,omitempty"`
}

func (p *peeper) summary() peekView {
	view := peekView{N: p.seen.N(), Unit: p.unit.Symbol, Mean: known(p.seen.Mean()), SD: known(p.seen.SD()), RateHz: known(p.rate())}
	if view.N > 0 {
		view.FirstAt, view.LastAt = p.first.UTC().Format(time.RFC3339Nano), p.last.UTC().Format(time.RFC3339Nano)
	}
	return view
}

// known is a figure for JSON: null where it is not known.
func known(x float64) *float64 {
	if math.IsNaN(x) || math.IsInf(x, 0) {
		return nil
	}
	return &x
}

// rate is readings per second, from the first to the last.
func (p *peeper) rate() float64 {
	return float64(p.seen.N()-1) / p.last.Sub(p.first).Seconds()
}

// totals is the summary on one line. The mean is shown to the digit that the
// spread leaves meaning to.
func (p *peeper) totals() string {
	if p.seen.N() == 0 {
		return "no reading"
	}
	mean, _, _ := strings.Cut(checks.Figure(p.seen.Mean(), p.seen.SD(), p.unit), " ±")
	text := fmt.Sprintf("n %d, mean %s", p.seen.N(), mean)
	if p.seen.N() > 1 {
		text += fmt.Sprintf(", sd %s, %.1f readings/s", checks.Figure(twoDigits(p.seen.SD()), 0, p.unit), p.rate())
	}
	return text
}

// twoDigits rounds to two significant digits.
func twoDigits(x float64) float64 {
	rounded, err := strconv.ParseFloat(strconv.FormatFloat(x, 'e', 1, 64), 64)
	if err != nil {
		return x
	}
	return rounded
}

// end writes the summary below the readings.
func (p *peeper) end() {
	if !p.plain {
		fmt.Fprint(p.out, "\r\x1b[K")
	}
	fmt.Fprintln(p.out, p.totals())
}

package logger

import (
	"fmt"
	"strings"
	"time"

	"soakline/checks"
	"soakline/device"
)

// startWatch follows the readings of one start until it must have settled.
type startWatch struct {
	at     time.Time
	number int
	seen   map[checks.CheckKey]*startFigure
}

// startFigure is how one check came up.
type startFigure struct {
	// after is when it was first within its limit; below 0 while it has not been.
	after   time.Duration
	highest float64
}

func newStartWatch(at time.Time, number int) *startWatch {
	return &startWatch{at: at, number: number, seen: map[checks.CheckKey]*startFigure{}}
}

// follow takes a reading of the start or the pause that is under way, if there is
// one.
func (p *powerCycles) follow(point checks.TestPointName, r device.Reading) {
	if p == nil {
		return
	}
	p.off.follow(point, r)
	if p.start == nil || r.At.Before(p.start.at) {
		return
	}
	key := checks.CheckKey{TestPoint: point, Measure: r.Measure}
	check, asked := p.sheet.Check(key)
	if !asked || check.Against != (checks.Reference{}) {
		return
	}
	figure := p.start.seen[key]
	if figure == nil {
		figure = &startFigure{after: -1, highest: r.Value}
		p.start.seen[key] = figure
	}
	figure.highest = max(figure.highest, r.Value)
	if figure.after < 0 && r.Value >= check.Limit.Low && r.Value <= check.Limit.High {
		figure.after = r.At.Sub(p.start.at)
	}
}

// tellStart says how a start went, once it must have settled. What has not come up
// by then is judged by its limit like any other reading.
func (b *Bench) tellStart(soak *liveSoak, now time.Time) {
	p := soak.power
	if p.start == nil || now.Before(p.start.at.Add(p.settle)) {
		return
	}
	var parts []string
	for _, point := range p.sheet.TestPoints {
		for _, check := range point.Checks {
			key := checks.CheckKey{TestPoint: point.Name, Measure: check.Measure}
			if figure := p.start.seen[key]; figure != nil {
				parts = append(parts, figure.text(key))
			}
		}
	}
	if len(parts) == 0 {
		parts = append(parts, "nothing was read")
	}
	b.tellPower(soak, fmt.Sprintf("on, start %d of %d: %s", p.start.number, p.plan.Cycles, strings.Join(parts, "; ")))
	p.start = nil
}

func (f startFigure) text(key checks.CheckKey) string {
	up := "not within its limit yet"
	if f.after >= 0 {
		up = "within after " + checks.Figure(f.after.Round(time.Millisecond).Seconds(), 0, device.Second)
	}
	return fmt.Sprintf("%s %s, highest %s", key, up, checks.Figure(f.highest, 0, key.Measure.Unit()))
}

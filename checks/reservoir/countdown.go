package reservoir

import (
	"errors"
	"fmt"
	"math"
	"time"
)

// CountdownOptions say what a countdown goes by.
type CountdownOptions struct {
	// BelowVolts is the voltage from the sheet, by size; it must be above 0.
	BelowVolts float64
	// FreshFor is how long a reading counts; after it the voltage is not known. It
	// must be above 0.
	FreshFor time.Duration
	// WatchFor is how long a voltage that has come below is watched for coming
	// back; 0 for a minute.
	WatchFor time.Duration
	// LoadOhms is the discharge path without the meter, where it is known: the
	// capacitance then follows. ExpectedTau is the time constant with the path whole;
	// 0 where unknown.
	LoadOhms    float64
	ExpectedTau time.Duration
	// MeterOhms is the meter's own resistance; 0 for UsualMeterOhms, +Inf for none.
	MeterOhms float64
}

// Validate says what is wrong with the options.
func (o CountdownOptions) Validate() error {
	var wrong []error
	if !(o.BelowVolts > 0) || math.IsInf(o.BelowVolts, 1) {
		wrong = append(wrong, fmt.Errorf("safe_v is %v, wanted above 0", o.BelowVolts))
	}
	if o.FreshFor <= 0 {
		wrong = append(wrong, fmt.Errorf("fresh_for is %s, wanted above 0", o.FreshFor))
	}
	if o.WatchFor < 0 {
		wrong = append(wrong, fmt.Errorf("watch_for is %s, wanted 0 or more", o.WatchFor))
	}
	if !(o.LoadOhms >= 0) || math.IsInf(o.LoadOhms, 1) {
		wrong = append(wrong, fmt.Errorf("load_ohm is %v, wanted 0 or more", o.LoadOhms))
	}
	if o.ExpectedTau < 0 {
		wrong = append(wrong, fmt.Errorf("expected_tau is %s, wanted 0 or more", o.ExpectedTau))
	}
	if !(o.MeterOhms >= 0) {
		wrong = append(wrong, fmt.Errorf("meter_ohm is %v, wanted 0 or more", o.MeterOhms))
	}
	return errors.Join(wrong...)
}

const (
	// mostKept is how many points a countdown keeps, whatever its length.
	mostKept = 160
	// recentKept is how many of the last readings are kept as they came.
	recentKept = 12
	// leastToTell is how many readings an estimate takes.
	leastToTell = 8
)

// Countdown watches a discharge as its readings come, at constant memory: up to 160
// points that are merged in pairs when they are used up. It has no clock and is not
// for several goroutines at once.
type Countdown struct {
	options CountdownOptions
	begin   time.Time // zero of the seconds
	t, v    []float64 // points of the fall
	each    int       // readings merged to a point
	open    struct {
		t, v float64
		n    int
	}
	recentT, recentV []float64
	latest           float64 // V, by size
	negative         bool
	at               time.Time
	seen             bool
	top              float64 // voltage at which the fall began
	falling          bool
	belowSince       time.Time
	lowest           float64
	refused          int
	stale            bool // points have come since the fit
	fit              fall
}

// NewCountdown returns a countdown that has seen nothing.
func NewCountdown(o CountdownOptions) (*Countdown, error) {
	if err := o.Validate(); err != nil {
		return nil, fmt.Errorf("count a discharge down: %w", err)
	}
	if o.WatchFor == 0 {
		o.WatchFor = time.Minute
	}
	return &Countdown{options: o, each: 1, lowest: math.NaN()}, nil
}

// Observe takes a reading. One that is not a number, or not later than the one
// before, is counted and changes nothing else.
func (c *Countdown) Observe(at time.Time, volts float64) {
	if !finite(volts) || math.Abs(volts) > 1e9 || c.seen && !at.After(c.at) {
		c.refused++
		return
	}
	if !c.seen {
		c.begin = at
	}
	gap := c.seen && at.Sub(c.at) > c.options.FreshFor
	c.negative = volts < 0
	c.seen, c.at, c.latest = true, at, math.Abs(volts)
	c.follow(gap)
	c.remember(at.Sub(c.begin).Seconds(), c.latest)
}

// Refused is how many readings were not used.
func (c *Countdown) Refused() int { return c.refused }

// follow keeps the time below the voltage asked for, which a gap in the readings
// ends as a higher reading does.
func (c *Countdown) follow(gap bool) {
	if c.latest >= c.options.BelowVolts {
		c.belowSince, c.lowest = time.Time{}, math.NaN()
		return
	}
	if c.belowSince.IsZero() || gap {
		c.belowSince, c.lowest = c.at, c.latest
	}
	c.lowest = min(c.lowest, c.latest)
}

// startsAt is how much of the voltage must be gone before a fall has begun, and by
// how much it must rise to have ended.
const startsAt = 0.005

// remember keeps the point, or starts again where a new fall begins: when the
// voltage rises, and when it falls much faster than on the whole before.
func (c *Countdown) remember(t, v float64) {
	c.recentT, c.recentV = pushed(c.recentT, t), pushed(c.recentV, v)
	rises := v > c.top*(1+startsAt) || c.falling && v > c.v[len(c.v)-1]+10*startsAt*c.top
	switch {
	case rises:
		c.restart(v)
		return
	case !c.falling && v > c.top*(1-startsAt):
		return
	case !c.falling || c.fallsFasterNow():
		c.restart(c.top)
		c.falling = true
		for i := range c.recentT {
			c.keep(c.recentT[i], c.recentV[i])
		}
		return
	}
	c.keep(t, v)
}

func (c *Countdown) restart(top float64) {
	c.t, c.v, c.each, c.falling, c.top = c.t[:0], c.v[:0], 1, false, top
	c.open.t, c.open.v, c.open.n = 0, 0, 0
	c.fit, c.stale = fall{}, false
	if n := len(c.recentT); n > 0 && top > c.recentV[n-1]*(1-startsAt) && c.recentV[n-1] >= top {
		c.recentT, c.recentV = c.recentT[n-1:], c.recentV[n-1:]
	}
}

// fallsFasterNow tells whether the last readings fall several times faster than
// the fall on the whole: what was kept so far was not the discharge.
func (c *Countdown) fallsFasterNow() bool {
	n, m := len(c.recentT), len(c.t)
	if n < recentKept || m < 2 || c.recentT[0] <= c.t[0] {
		return false
	}
	span := c.recentT[n-1] - c.recentT[0]
	now := (c.recentV[0] - c.recentV[n-1]) / span
	before := (c.v[0] - c.recentV[0]) / (c.recentT[0] - c.t[0])
	return now > 4*before && now*span > 4*startsAt*c.top
}

func pushed(x []float64, v float64) []float64 {
	if len(x) == recentKept {
		copy(x, x[1:])
		x = x[:recentKept-1]
	}
	return append(x, v)
}

// keep adds a reading to the points; when their places are used up, neighbours are
// merged.
func (c *Countdown) keep(t, v float64) {
	c.stale = true
	c.open.t += t
	c.open.v += v
	if c.open.n++; c.open.n < c.each {
		return
	}
	c.t, c.v = append(c.t, c.open.t/float64(c.each)), append(c.v, c.open.v/float64(c.each))
	c.open.t, c.open.v, c.open.n = 0, 0, 0
	if len(c.t) < mostKept {
		return
	}
	for i := range mostKept / 2 {
		c.t[i], c.v[i] = (c.t[2*i]+c.t[2*i+1])/2, (c.v[2*i]+c.v[2*i+1])/2
	}
	c.t, c.v = c.t[:mostKept/2], c.v[:mostKept/2]
	c.each *= 2
}

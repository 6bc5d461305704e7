package reservoir

import (
	"fmt"
	"math"
	"time"

	"soakline/checks"
	"soakline/device"
)

// Phase is how a discharge stands.
type Phase string

// The phases of a discharge.
const (
	NotKnown Phase = "not known"   // no fresh reading
	Charged  Phase = "not falling" // at or above the voltage asked for, and steady
	Falling  Phase = "falling"
	Below    Phase = "below"       // a reading below the voltage asked for
	Rising   Phase = "coming back" // below, but rising again
)

// Outlook is what a countdown says at one moment. No phase says that anything may
// be touched.
type Outlook struct {
	Phase Phase
	// Volts is the latest reading; NaN where it is not fresh. Age is how old it is.
	Volts float64
	Age   time.Duration
	// BelowVolts is the voltage asked for. Left is the estimated time in seconds
	// until a reading is below it, while falling; NaN where that can't be said.
	BelowVolts float64
	Left       Estimate
	// Tau is the time constant in seconds, NaN too while too little of the fall has
	// been seen to tell it. Straight tells that the fall is still one of constant
	// current, which has none.
	Tau      Estimate
	Straight bool
	// Capacitance, in farad, follows from the time constant where the load is known;
	// Findings say what is wrong with the fall as it is so far.
	Capacitance Estimate
	Findings    []checks.Finding
	// BelowFor is how long readings have been below without a gap, Watched whether
	// that is as long as was asked for.
	BelowFor time.Duration
	Watched  bool

	watch time.Duration
}

// Outlook returns how the discharge stands now.
func (c *Countdown) Outlook(now time.Time) Outlook {
	o := Outlook{
		Phase: NotKnown, Volts: math.NaN(), BelowVolts: c.options.BelowVolts,
		Left: unknown(), Tau: unknown(), Capacitance: unknown(), watch: c.options.WatchFor,
	}
	if !c.seen {
		return o
	}
	if o.Age = now.Sub(c.at); o.Age > c.options.FreshFor {
		return o
	}
	o.Volts = c.latest
	if c.negative {
		o.Volts = -o.Volts
	}
	c.refit()
	o.Tau, o.Straight = unknown(), c.fit.straight
	told := c.told()
	if told {
		o.Tau = c.fit.curve.tau()
		c.diagnose(&o)
	}
	switch {
	case !c.belowSince.IsZero():
		c.below(&o)
	case !c.falling:
		o.Phase = Charged
	default:
		o.Phase = Falling
		if told {
			c.left(&o, now)
		}
	}
	return o
}

// diagnose says what the time constant means for capacitor and bleeder.
func (c *Countdown) diagnose(o *Outlook) {
	parts := DischargeOptions{LoadOhms: c.options.LoadOhms, MeterOhms: c.options.MeterOhms}
	if parts.LoadOhms > 0 {
		o.Capacitance = o.Tau.over(Estimate{Value: parallel(parts.LoadOhms, parts.meter())})
	}
	if e := c.options.ExpectedTau.Seconds(); tooSlow(o.Tau, e) {
		o.Findings = append(o.Findings, find(codeSlow, checks.Outside, secondU(o.Tau), second(e)))
	}
}

// When a time constant is worth telling (common practice, no source): at most a
// quarter of it uncertain, and a tenth of it seen.
const (
	poorestTau  = 0.25
	leastOfATau = 0.1
)

// told tells whether the fit says enough of the fall to be shown.
func (c *Countdown) told() bool {
	if !c.fit.known {
		return false
	}
	tau := c.fit.curve.tau()
	seen := c.t[len(c.t)-1] - c.fit.curve.zero
	return tau.OK() && tau.U <= poorestTau*tau.Value && seen >= leastOfATau*tau.Value
}

// below fills in how long, and whether the voltage rises again.
func (c *Countdown) below(o *Outlook) {
	o.Phase = Below
	o.BelowFor = c.at.Sub(c.belowSince)
	o.Watched = o.BelowFor >= c.options.WatchFor
	if c.latest-c.lowest > max(0.02*c.options.BelowVolts, 0.002*c.top) {
		o.Phase = Rising
	}
}

func (c *Countdown) left(o *Outlook, now time.Time) {
	if at := c.fit.curve.reaches(c.options.BelowVolts); at.OK() {
		o.Left = Estimate{Value: max(0, at.Value-now.Sub(c.begin).Seconds()), U: at.U}
	}
}

// refit fits what has been kept, if anything is new.
func (c *Countdown) refit() {
	if !c.falling || !c.stale || len(c.t) < leastToTell {
		return
	}
	c.fit, c.stale = fitLive(c.t, c.v), false
}

// fitLive is fitFall for a fall that is still under way: until two time constants
// have passed the floor is held near 0 V, however well the curve seems to fit.
func fitLive(t, v []float64) fall {
	f := fall{}
	f.split(t, v)
	t, v = f.t[f.segment.knee:], f.v[f.segment.knee:]
	c, err := fitDecay(t, v, floorBelief{sdVolts: believedFloor * v[0], noiseVolts: noiseOf(v)})
	if err != nil || !(c.tau().Value > 0) {
		return f
	}
	f.curve, f.known = c, true
	if f.segment.knee == 0 && rather(t, v, c, noiseOf(v)) {
		f.known, f.straight = false, true
	}
	return f
}

// Text says it for a person, after the test point's name.
func (o Outlook) Text() string {
	below := fmt.Sprintf("below %s", volt(o.BelowVolts))
	switch o.Phase {
	case Charged:
		return fmt.Sprintf("%s   not falling", volt(o.Volts))
	case Falling:
		return fmt.Sprintf("%s   falling%s", volt(o.Volts), o.fallText(below)) + o.slowText()
	case Below:
		text := fmt.Sprintf("%s   %s since %s", volt(o.Volts), below, words(o.BelowFor))
		if o.Watched {
			return text + "; it may still come back: measure again before touching"
		}
		return text + "; it may come back: watching for " + words(o.watch)
	case Rising:
		return fmt.Sprintf("%s   %s, but coming back", volt(o.Volts), below)
	}
	if o.Age > 0 {
		return fmt.Sprintf("%s (no reading for %s)", NotKnown, words(o.Age))
	}
	return fmt.Sprintf("%s (no reading yet)", NotKnown)
}

func (o Outlook) fallText(below string) string {
	switch {
	case o.Straight:
		return " in a straight line: no time constant yet"
	case !o.Tau.OK():
		return "; no estimate yet"
	}
	text := ", tau " + checks.Figure(o.Tau.Value, o.Tau.U, device.Second)
	if !o.Left.OK() {
		return text + "; it does not come " + below + " by itself"
	}
	return fmt.Sprintf("%s   %s in about %s by estimate", text, below, words(time.Duration(o.Left.Value*float64(time.Second))))
}

// slowText says that a fall is slower than it should be.
func (o Outlook) slowText() string {
	if len(o.Findings) == 0 {
		return ""
	}
	return "; slower than it should be: the bleeder may be open"
}

// words says a duration as at the bench, to the second.
func words(d time.Duration) string {
	d = d.Round(time.Second)
	switch {
	case d >= time.Hour:
		return fmt.Sprintf("%d h %02d min", int(d/time.Hour), int(d/time.Minute)%60)
	case d >= time.Minute:
		return fmt.Sprintf("%d min %02d s", int(d/time.Minute), int(d/time.Second)%60)
	}
	return fmt.Sprintf("%d s", int(d/time.Second))
}

package reservoir

import (
	"fmt"
	"math"
	"math/rand/v2"
	"strings"
	"testing"
	"time"
)

var noon = time.Date(2026, 4, 2, 12, 0, 0, 0, time.UTC)

func after(seconds float64) time.Time {
	return noon.Add(time.Duration(seconds * float64(time.Second)))
}

func countdown(t testing.TB, below float64) *Countdown {
	t.Helper()
	c, err := NewCountdown(CountdownOptions{BelowVolts: below, FreshFor: 3 * time.Second})
	if err != nil {
		t.Fatal(err)
	}
	return c
}

// Within 10 % of the truth once 40 % of the first time constant has passed: over
// seeds, noises of a good and of a poor meter, voltages and floors; and no worse
// later. A straight part comes first in some.
func TestCountdownIsWithinTenPercent(t *testing.T) {
	for _, row := range []struct {
		v0, tau, floor, below, sd, straight float64
	}{
		{12, 41, 0, 2, 1e-3, 0}, {12, 41, 0.1, 2, 10e-3, 0}, {320, 22, 0, 60, 0.05, 0}, {320, 22, 1, 42.4, 0.5, 0},
		{30, 200, 0.05, 2, 5e-3, 0}, {8, 8, 0, 0.5, 2e-3, 0}, {8.31, 41, 0, 2, 1e-3, 10}, {11.5, 60, 0.1, 2, 10e-3, 30},
		{-12, 41, -0.1, 2, 5e-3, 0},
	} {
		t.Run(fmt.Sprintf("%+v", row), func(t *testing.T) {
			truth := row.tau * math.Log((math.Abs(row.v0)-math.Abs(row.floor))/(row.below-math.Abs(row.floor)))
			for seed := range uint64(4) {
				c, random := countdown(t, row.below), rand.New(rand.NewPCG(seed, 4))
				for s := -row.straight; s < truth; s += 0.5 {
					v := decayOf(row.v0, row.tau, row.floor)(s)
					if s < 0 {
						v = row.v0 * (1 - s/row.straight*0.3)
					}
					c.Observe(after(s+100), v+row.sd*random.NormFloat64())
					if s < 0.4*row.tau || math.Mod(s, 5) != 0 {
						continue
					}
					o := c.Outlook(after(s + 100))
					if whole := o.Left.Value + s; o.Phase == Falling && !(math.Abs(whole-truth) < 0.1*truth) {
						t.Fatalf("seed %d at %.1f s: %s, %.1f s in all where %.1f s are true", seed, s, o.Text(), whole, truth)
					}
				}
			}
		})
	}
}

// It gets better as readings come: the mean error at twice the time is smaller.
func TestCountdownImproves(t *testing.T) {
	const floor = 0.15
	truth := 41 * math.Log((12-floor)/(2-floor))
	errors := map[float64]float64{10: 0, 20: 0, 40: 0}
	for seed := range uint64(30) {
		c, random := countdown(t, 2), rand.New(rand.NewPCG(seed, 5))
		for s := 0.0; s <= 40; s += 0.5 {
			c.Observe(after(s), decayOf(12, 41, floor)(s)+0.01*random.NormFloat64())
			if _, wanted := errors[s]; wanted {
				errors[s] += math.Abs(c.Outlook(after(s)).Left.Value + s - truth)
			}
		}
	}
	if !(errors[40] < errors[20] && errors[20] < errors[10]) {
		t.Errorf("mean errors do not shrink: %v", errors)
	}
}

// The power has been on for hours before it goes off: what was read then must not
// hide the fall.
func TestCountdownAfterALongTimeOn(t *testing.T) {
	c := countdown(t, 2)
	random := rand.New(rand.NewPCG(1, 6))
	for s := -20000.0; s < 20; s += 0.5 {
		v := 12 + 0.3*math.Sin(s/3000)
		if s >= 0 {
			v = (12 + 0.3*math.Sin(0)) * math.Exp(-s/41)
		}
		c.Observe(after(s), v+0.005*random.NormFloat64())
	}
	o := c.Outlook(after(19.5))
	near(t, "tau", o.Tau.Value, 41, 0.05)
	near(t, "time in all", o.Left.Value+19.5, 41*math.Log(6), 0.05)
	if len(c.t) > mostKept || cap(c.t) > 2*mostKept || len(c.recentT) > recentKept {
		t.Errorf("%d points, room for %d", len(c.t), cap(c.t))
	}
}

// A reading that is missing or stale is not known, and neither 0 V nor any other
// figure is shown.
func TestStaleReadingIsNotKnown(t *testing.T) {
	c := countdown(t, 2)
	if o := c.Outlook(noon); o.Phase != NotKnown || !math.IsNaN(o.Volts) || o.Text() != "not known (no reading yet)" {
		t.Errorf("before the first reading: %+v %s", o, o.Text())
	}
	for s := 0.0; s < 200; s++ {
		c.Observe(after(s), 12*math.Exp(-s/41))
	}
	if o := c.Outlook(after(201)); o.Phase != Below || math.IsNaN(o.Volts) {
		t.Errorf("fresh: %+v", o)
	}
	if o := c.Outlook(after(202)); o.Phase != Below {
		t.Errorf("exactly as old as it may be: %+v", o)
	}
	o := c.Outlook(after(202.1))
	if o.Phase != NotKnown || !math.IsNaN(o.Volts) || o.Tau.OK() || o.Left.OK() || o.BelowFor != 0 {
		t.Errorf("stale: %+v", o)
	}
	if text := o.Text(); text != "not known (no reading for 3 s)" {
		t.Error(text)
	}
	c.Observe(after(300), 0.1)
	if o := c.Outlook(after(300)); o.BelowFor != 0 {
		t.Errorf("a gap counts as time below: %v", o.BelowFor)
	}
}

func TestReadingsThatComeBack(t *testing.T) {
	c := countdown(t, 2)
	for s := 0.0; s < 100; s++ {
		v := 12 * math.Exp(-s/3)
		if s > 20 {
			v = 12*math.Exp(-20.0/3) + 0.6*(1-math.Exp(-(s-20)/30))
		}
		c.Observe(after(s), v)
	}
	o := c.Outlook(after(99))
	if o.Phase != Rising || !strings.Contains(o.Text(), "coming back") {
		t.Errorf("%+v: %s", o, o.Text())
	}
	c.Observe(after(100), 2.5)
	if o := c.Outlook(after(100)); o.Phase == Below || o.Phase == Rising {
		t.Errorf("2.5 V is not below 2 V: %+v", o)
	}
	c.Observe(after(101), 2)
	if o := c.Outlook(after(101)); o.Phase == Below {
		t.Errorf("exactly on the voltage is not below it: %+v", o)
	}
}

// While little of a fall is seen it says that there is no estimate yet: no time
// constant, no time, and no claim that the voltage stays up (the fall is the closed
// form W-30, V = V0 exp(-t/tau), here of 1,000 s).
func TestNoEstimateYet(t *testing.T) {
	c := countdown(t, 2)
	for s := 0.0; s <= 300; s++ {
		c.Observe(after(s), 12*math.Exp(-s/1000)+0.001*math.Sin(7*s))
		o := c.Outlook(after(s))
		if s >= 10 && s < 95 && (o.Tau.OK() || o.Left.OK() || !strings.HasSuffix(o.Text(), "falling; no estimate yet")) {
			t.Fatalf("after %g s: %s", s, o.Text())
		}
		if s == 300 && !(math.Abs(o.Tau.Value-1000) < 100 && o.Left.OK() && strings.Contains(o.Text(), "below 2 V in about")) {
			t.Errorf("after %g s: tau %v, %s", s, o.Tau, o.Text())
		}
	}
}

// No text of this package claims that something may be touched (cautions K-01, K-07).
func TestNoWordClaimsSafety(t *testing.T) {
	var texts []string
	for _, code := range FindingCodes() {
		f := find(code, "")
		texts = append(texts, f.Text, f.Advice)
	}
	c := countdown(t, 2)
	for s := 0.0; s < 300; s++ {
		c.Observe(after(s), 12*math.Exp(-s/20))
		texts = append(texts, c.Outlook(after(s)).Text())
	}
	texts = append(texts, c.Outlook(after(1e6)).Text())
	for _, text := range texts {
		for _, word := range []string{"safe", "harmless", "ok to", "all clear", "!"} {
			if strings.Contains(strings.ToLower(strings.ReplaceAll(text, "%!", "")), word) {
				t.Errorf("%q says %q", text, word)
			}
		}
	}
}

func TestCountdownRefuses(t *testing.T) {
	c := countdown(t, 2)
	c.Observe(noon, math.NaN())
	c.Observe(noon, math.Inf(-1))
	c.Observe(noon, 5)
	c.Observe(noon, 4)
	c.Observe(after(-1), 4)
	if c.Refused() != 4 || c.Outlook(noon).Volts != 5 {
		t.Errorf("%d refused", c.Refused())
	}
	for _, o := range []CountdownOptions{{}, {BelowVolts: 2}, {BelowVolts: math.NaN(), FreshFor: 1}, {BelowVolts: 2, FreshFor: 1, WatchFor: -1}} {
		if _, err := NewCountdown(o); err == nil {
			t.Errorf("%+v was accepted", o)
		}
	}
}

func FuzzCountdown(f *testing.F) {
	f.Add(12.0, 0.5, 11.0, 1.0, 10.0)
	f.Add(math.NaN(), -1.0, 1e300, 1e9, -5.0)
	f.Fuzz(func(t *testing.T, a, dt, b, dt2, rate float64) {
		c := countdown(t, 2)
		s := 0.0
		for i := range 40 {
			c.Observe(after(math.Mod(s, 1e9)), a*math.Exp(-rate*float64(i))+b)
			s += math.Abs(dt) + float64(i%3)*dt2
			o := c.Outlook(after(math.Mod(s, 1e9)))
			if o.Text() == "" || o.Left.Value < 0 {
				t.Fatalf("%+v", o)
			}
		}
	})
}

func BenchmarkCountdown(b *testing.B) {
	c := countdown(b, 2)
	s := 0.0
	for b.Loop() {
		c.Observe(after(s), 12*math.Exp(-math.Mod(s, 200)/41))
		c.Outlook(after(s))
		s += 0.5
	}
}

// A console with everything that is real: constant current until the regulator
// drops out, a dead load, and a dielectric that lags. The truth is when the
// simulated voltage comes below 2 V.
func TestSimulatedCountdown(t *testing.T) {
	for name, branch := range map[string]string{
		"quick dielectric": "cd da 0 188u ic=11.4\nrd out da 79.8k\n",
		"slow dielectric":  "cd da 0 188u ic=11.4\nrd out da 1meg\n",
		"none":             "",
	} {
		t.Run(name, func(t *testing.T) {
			circuit := "c1 out 0 4700u ic=11.4\nr1 out 0 8700\nb1 out 0 i=0.0009*min(1,max(0,(v(out)-8.31)*50))\n" + branch
			seconds, volts := simulate(t, circuit, 0, 160, 0.25)
			c, random := countdown(t, 2), rand.New(rand.NewPCG(2, 4))
			knee, truth := 0.0, 0.0
			for i, v := range volts {
				if v > 8.3 {
					knee = seconds[i]
				}
				if v > 2 {
					truth = seconds[i]
				}
			}
			for i, v := range volts {
				s := seconds[i]
				c.Observe(after(s), v+0.002*random.NormFloat64())
				if s < knee+0.4*41 || s > truth-2 || i%20 != 0 {
					continue
				}
				o := c.Outlook(after(s))
				if whole := o.Left.Value + s; !(math.Abs(whole-truth) < 0.1*(truth-knee)) {
					t.Errorf("at %.1f s (knee %.1f s): %s, %.1f s in all where %.1f s are true", s, knee, o.Text(), whole, truth)
				}
			}
		})
	}
}

// While the voltage falls the load gives the capacitance, C = tau/R with the meter's
// 10 Mohm beside it (W-34, W-35), and a fall three times slower than it should be is
// told of at once; neither is told where it is not known.
func TestCountdownTellsCapacitanceAndBleeder(t *testing.T) {
	for name, row := range map[string]struct {
		load     float64
		expected time.Duration
		farads   float64
		slow     bool
	}{
		"nothing known":  {0, 0, math.NaN(), false},
		"load known":     {8700, 0, 41 / (8700 * 10e6 / (8700 + 10e6)), false},
		"as expected":    {0, 41 * time.Second, math.NaN(), false},
		"just too slow":  {0, 20 * time.Second, math.NaN(), true},
		"slow, and load": {8700, 13 * time.Second, 41 / (8700 * 10e6 / (8700 + 10e6)), true},
	} {
		c, err := NewCountdown(CountdownOptions{BelowVolts: 2, FreshFor: 3 * time.Second, LoadOhms: row.load, ExpectedTau: row.expected})
		if err != nil {
			t.Fatal(err)
		}
		random := rand.New(rand.NewPCG(4, 4))
		var o Outlook
		for s := 0.0; s < 30; s += 0.5 {
			c.Observe(after(s), decayOf(12, 41, 0)(s)+1e-3*random.NormFloat64())
			o = c.Outlook(after(s))
		}
		if o.Capacitance.OK() == math.IsNaN(row.farads) || o.Capacitance.OK() && math.Abs(o.Capacitance.Value/row.farads-1) > 0.02 {
			t.Errorf("%s: %+v, want %v F", name, o.Capacitance, row.farads)
		}
		if has(o.Findings, codeSlow) != row.slow || strings.Contains(o.Text(), "the bleeder may be open") != row.slow {
			t.Errorf("%s: %+v %q", name, o.Findings, o.Text())
		}
	}
	for _, o := range []CountdownOptions{{LoadOhms: -1}, {LoadOhms: math.NaN()}, {ExpectedTau: -1}, {MeterOhms: math.NaN()}} {
		o.BelowVolts, o.FreshFor = 2, time.Second
		if _, err := NewCountdown(o); err == nil {
			t.Errorf("%+v is taken", o)
		}
	}
}

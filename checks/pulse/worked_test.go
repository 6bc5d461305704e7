package pulse_test

import (
	"math"
	"testing"

	"soakline/checks/pulse"
)

// The worked examples W1 to W7 are closed forms, derived by arithmetic; the terms
// are those of IEEE 181-2011.

const nanosecond = 1e-9

func near(t *testing.T, what string, got, want, tolerance float64, source string) {
	t.Helper()
	if !(math.Abs(got-want) <= tolerance) {
		t.Errorf("%s = %.9g, want %.9g ± %.2g (%s)", what, got, want, tolerance, source)
	}
}

// sampled evaluates f at n instants dt apart.
func sampled(n int, dt float64, f func(t float64) float64) []float64 {
	v := make([]float64, n)
	for i := range v {
		v[i] = f(float64(i) * dt)
	}
	return v
}

func given(t *testing.T, low, high float64) pulse.Levels {
	t.Helper()
	l, err := pulse.GivenLevels(low, high)
	if err != nil {
		t.Fatal(err)
	}
	return l
}

func only(t *testing.T, v []float64, dt float64, l pulse.Levels) pulse.Transition {
	t.Helper()
	all, err := pulse.Transitions(v, dt, l)
	if err != nil {
		t.Fatal(err)
	}
	if len(all) != 1 {
		t.Fatalf("%d transitions, want 1", len(all))
	}
	return all[0]
}

func TestW1SinglePole(t *testing.T) {
	const source = "W1: tau 10 ns, duration tau ln 9"
	const dt, tau = 0.01 * nanosecond, 10 * nanosecond
	v := sampled(20001, dt, func(x float64) float64 { return 1 - math.Exp(-x/tau) })
	l := given(t, 0, 1)
	edge := only(t, v, dt, l)
	near(t, "t10 in ns", edge.T10/nanosecond, 1.053605, 1e-4, source)
	near(t, "t50 in ns", edge.T50/nanosecond, 6.931472, 1e-4, source)
	near(t, "t90 in ns", edge.T90/nanosecond, 23.025851, 1e-4, source)
	near(t, "duration in ns", edge.DurationSeconds/nanosecond, 21.972246, 1e-4, source)
	near(t, "bandwidth in MHz", pulse.BandwidthHertz(edge.DurationSeconds)/1e6, 15.915494, 1e-4, source)
	for _, row := range []struct{ percent, fromStep float64 }{{5, 29.957}, {2, 39.120}, {1, 46.052}, {0.1, 69.078}} {
		s, err := pulse.SettlingSeconds(v, dt, l, edge, row.percent, 0)
		if err != nil {
			t.Fatal(err)
		}
		near(t, "settling in ns", (s+edge.T50)/nanosecond, row.fromStep, 1e-3, source)
	}
	_, post, err := pulse.Aberrations(v, dt, l, edge, pulse.AberrationOptions{})
	if err != nil {
		t.Fatal(err)
	}
	near(t, "overshoot in %", post.OvershootPercent, 0, 1e-9, source)
}

func TestW2SecondOrder(t *testing.T) {
	const source = "W2: exp(-pi zeta / sqrt(1 - zeta^2))"
	rows := []struct{ zeta, overshoot, dip, peak, rise float64 }{
		{0.2, 52.6621, 27.7329, 3.206375, 1.203430},
		{0.3, 37.2326, 13.8627, 3.293284, 1.321340},
		{0.4, 25.3827, 6.4428, 3.427758, 1.463491},
		{0.5, 16.3034, 2.6580, 3.627599, 1.637573},
		{0.6, 9.4780, 0.8983, 3.926991, 1.854050},
		{0.707107, 4.3214, 0.1867, 4.442883, 2.148038},
		{0.8, 1.5165, 0.0230, 5.235988, 2.467493},
	}
	const dt = 0.002 // in units of 1/wn
	for _, row := range rows {
		v := sampled(20001, dt, secondOrder(row.zeta))
		l := given(t, 0, 1)
		edge := firstOf(t, v, dt, l)
		near(t, "wn rise", edge.DurationSeconds, row.rise, 2e-5, source)
		_, post, err := pulse.Aberrations(v, dt, l, edge, pulse.AberrationOptions{Durations: 8})
		if err != nil {
			t.Fatal(err)
		}
		near(t, "overshoot in %", post.OvershootPercent, row.overshoot, 1e-3, source)
		near(t, "dip in %", post.UndershootPercent, row.dip, 1e-3, source)
		near(t, "wn peak time", post.OvershootSeconds, row.peak, 2e-3, source)
		near(t, "formula in %", pulse.OvershootPercent(row.zeta), row.overshoot, 1e-3, source)
	}
}

// firstOf is the first transition: weakly damped steps ring back through 90 %.
func firstOf(t *testing.T, v []float64, dt float64, l pulse.Levels) pulse.Transition {
	t.Helper()
	all, err := pulse.Transitions(v, dt, l)
	if err != nil {
		t.Fatal(err)
	}
	return all[0]
}

func secondOrder(zeta float64) func(float64) float64 {
	wd := math.Sqrt(1 - zeta*zeta)
	return func(x float64) float64 {
		return 1 - math.Exp(-zeta*x)*(math.Cos(wd*x)+zeta/wd*math.Sin(wd*x))
	}
}

func TestW2CheckAndInverse(t *testing.T) {
	const wn, dt = 2 * math.Pi * 5e6, 0.1 * nanosecond
	response := secondOrder(0.5)
	v := sampled(10001, dt, func(x float64) float64 { return response(wn * x) })
	l := given(t, 0, 1)
	edge := only(t, v, dt, l)
	_, post, err := pulse.Aberrations(v, dt, l, edge, pulse.AberrationOptions{})
	if err != nil {
		t.Fatal(err)
	}
	near(t, "peak in ns", post.OvershootSeconds/nanosecond, 115.470, 0.1, "W2 check")
	near(t, "value at peak", 1+post.OvershootPercent/100, 1.163034, 1e-6, "W2 check")
	s, err := pulse.SettlingSeconds(v, dt, l, edge, 2, 0)
	if err != nil {
		t.Fatal(err)
	}
	near(t, "wn times 2 % settling", wn*(s+edge.T50), 8.076, 1e-3, "W2 check")

	for _, row := range []struct{ percent, zeta float64 }{
		{1, 0.826085}, {2, 0.779703}, {5, 0.690107}, {10, 0.591155}, {20, 0.455950}, {25, 0.403713},
	} {
		near(t, "zeta", pulse.DampingRatio(row.percent), row.zeta, 1e-6, "W2 inverse")
	}
	for _, wrong := range []float64{0, -1, 100, math.NaN()} {
		if z := pulse.DampingRatio(wrong); !math.IsNaN(z) {
			t.Errorf("damping ratio of %g %% = %g, want NaN", wrong, z)
		}
	}
	if o := pulse.OvershootPercent(1); o != 0 {
		t.Errorf("overshoot at zeta 1 = %g, want 0", o)
	}
}

func TestW3LinearRamp(t *testing.T) {
	const source = "W3: sync edge -300 mV to 0 V in 250 ns"
	const dt = 10 * nanosecond
	v := sampled(100, dt, func(x float64) float64 {
		return -0.3 + 0.3*math.Min(math.Max((x-300*nanosecond)/(250*nanosecond), 0), 1)
	})
	l := given(t, -0.3, 0)
	near(t, "10 % level", l.Reference(10), -0.270, 1e-12, source)
	near(t, "90 % level", l.Reference(90), -0.030, 1e-12, source)
	near(t, "20-80 % share", (l.Reference(80)-l.Reference(20))/l.Amplitude(), 0.6, 1e-12, source)
	edge := only(t, v, dt, l)
	near(t, "duration in ns", edge.DurationSeconds/nanosecond, 200, 1e-6, source)
	slew := 0.8 * l.Amplitude() / edge.DurationSeconds
	near(t, "slew in V/us", slew/1e6, 1.2, 1e-6, source)
}

func TestW4HistogramByHand(t *testing.T) {
	const source = "W4: bounds 0 to 1.2 V, 12 bins"
	v := []float64{0.05, 0.05, 0.05, 0.05, 0.05, 0.45, 0.85, 1.15, 1.05, 1.05, 1.05, 1.05}
	l, err := pulse.HistogramLevels(v, pulse.HistogramOptions{Bins: 12, Low: 0, High: 1.2})
	if err != nil {
		t.Fatal(err)
	}
	near(t, "low", l.Low, 0.05, 1e-12, source)
	near(t, "high", l.High, 1.05, 1e-12, source)
	near(t, "amplitude", l.Amplitude(), 1.00, 1e-12, source)
	near(t, "10 %", l.Reference(10), 0.15, 1e-12, source)
	near(t, "50 %", l.Reference(50), 0.55, 1e-12, source)
	near(t, "90 %", l.Reference(90), 0.95, 1e-12, source)
	edge := only(t, v, 1, l)
	_, post, err := pulse.Aberrations(v, 1, l, edge, pulse.AberrationOptions{})
	if err != nil {
		t.Fatal(err)
	}
	near(t, "overshoot in %", post.OvershootPercent, 10, 1e-9, source)
	near(t, "undershoot in %", post.UndershootPercent, 0, 1e-9, source)
}

func TestW5Interpolation(t *testing.T) {
	const source = "W5: samples every 10 ns"
	v := []float64{0, 0, 0.2, 0.6, 0.95, 1, 1}
	edge := only(t, v, 10*nanosecond, given(t, 0, 1))
	near(t, "t10 in ns", edge.T10/nanosecond, 15.0000, 1e-4, source)
	near(t, "t50 in ns", edge.T50/nanosecond, 27.5000, 1e-4, source)
	near(t, "t90 in ns", edge.T90/nanosecond, 38.5714, 1e-4, source)
	near(t, "duration in ns", edge.DurationSeconds/nanosecond, 23.5714, 1e-4, source)
}

func TestW6InstrumentCorrection(t *testing.T) {
	const source = "W6: 100 MHz single pole"
	own := pulse.SinglePoleProduct / 100e6
	near(t, "own duration in ns", own/nanosecond, 3.497, 1e-3, source)
	near(t, "seen in ns", math.Hypot(21.972, 3.497), 22.249, 1e-3, source)
	s, bound := pulse.WithoutInstrument(22.249*nanosecond, own)
	near(t, "corrected in ns", s/nanosecond, 21.972, 1e-3, source)
	if bound {
		t.Error("3.5 ns in 22 ns is called an upper bound")
	}
	if s, bound = pulse.WithoutInstrument(9*nanosecond, 3.5*nanosecond); !bound || s != 9*nanosecond {
		t.Errorf("instrument above a third of the reading gives %g, bound %v; want the reading as upper bound", s, bound)
	}
	if _, bound = pulse.WithoutInstrument(9*nanosecond, math.NaN()); !bound {
		t.Error("an unknown instrument gives a corrected figure")
	}
}

func TestW7FallingEdge(t *testing.T) {
	const source = "W7: undershoot 56/700, overshoot before the edge 14/700"
	v := []float64{0.7, 0.7, 0.7, 0.714, 0.35, -0.056, 0, 0, 0, 0}
	edge := only(t, v, 40*nanosecond, given(t, 0, 0.7))
	if edge.Edge != pulse.Falling || edge.T90 >= edge.T10 {
		t.Errorf("edge %s with t90 %g and t10 %g, want falling with t90 first", edge.Edge, edge.T90, edge.T10)
	}
	pre, post, err := pulse.Aberrations(v, 40*nanosecond, given(t, 0, 0.7), edge, pulse.AberrationOptions{})
	if err != nil {
		t.Fatal(err)
	}
	near(t, "undershoot in %", post.UndershootPercent, 8.0, 1e-9, source)
	near(t, "overshoot after in %", post.OvershootPercent, 0, 1e-9, source)
	near(t, "overshoot before in %", pre.OvershootPercent, 2.0, 1e-9, source)
	if post.Region != pulse.PostTransition || pre.Region != pulse.PreTransition || post.Edge != pulse.Falling {
		t.Errorf("region %q and %q, edge %q do not say where the figure is from", pre.Region, post.Region, post.Edge)
	}
}

// Rise time and bandwidth of common systems: P-20 derived, 0.349699/BW.
func TestP20BandwidthTable(t *testing.T) {
	for _, row := range []struct{ megahertz, ns float64 }{
		{4.2, 83.26}, {5, 69.94}, {5.5, 63.58}, {6, 58.28}, {20, 17.48}, {50, 6.994}, {100, 3.497},
	} {
		near(t, "bandwidth in MHz", pulse.BandwidthHertz(row.ns*nanosecond)/1e6, row.megahertz, 1e-3*row.megahertz, "P-20")
	}
	for _, wrong := range []float64{0, -1, math.NaN()} {
		if b := pulse.BandwidthHertz(wrong); !math.IsNaN(b) {
			t.Errorf("bandwidth of %g s = %g, want NaN", wrong, b)
		}
	}
	near(t, "P-22", pulse.ButterworthProduct, 2.148038/(2*math.Pi), 1e-5, "W2 row 0.707107")
}

package simbench

import (
	"math"
	"strconv"
)

// ranges are the full scales that a function has.
func ranges(f function) []float64 {
	switch f {
	case dcAmperes:
		return []float64{0.01, 0.1, 1, 10}
	case ohms:
		return []float64{100, 1e3, 1e4, 1e5, 1e6, 1e7}
	case hertz:
		return []float64{100, 1e3, 1e4, 1e5, 1e6}
	case temperature:
		return []float64{1000}
	default:
		return []float64{0.1, 1, 10, 100, 1000}
	}
}

// chooseRange is the range for a value: the smallest that shows it, or the
// smallest that reaches what was asked for.
func chooseRange(f function, value, asked float64) float64 {
	all := ranges(f)
	want := value / 1.2
	if !math.IsInf(asked, 1) {
		want = asked
	}
	for _, full := range all {
		if want <= full {
			return full
		}
	}
	return all[len(all)-1]
}

// measure looks at the input over the integration that ends now. NaN stands for
// nothing to measure.
func (m *meter) measure(now float64) float64 {
	w := m.wire(m.channel)
	if (m.function == temperature) != w.celsius() {
		return math.NaN()
	}
	var v float64
	switch m.function {
	case acVolts:
		v = m.rms(w, now)
	case dcAmperes:
		v = w.amperes(now)
	case ohms:
		v = m.resistance(w, now)
	case hertz:
		v = m.frequency(w, now)
	default:
		window := max(m.integration.Seconds(), 1e-3)
		v = mean(m.look(w, now, window, max(100, min(4000, int(window/50e-6)))))
	}
	full := chooseRange(m.function, math.Abs(v), math.Inf(1))
	return v*(1+m.own.GainError) + full*m.own.NoiseRatio*m.chance.NormFloat64()
}

// look samples the input n times over a window that ends now.
func (m *meter) look(w *wire, now, window float64, n int) []float64 {
	if cap(m.samples) < n {
		m.samples = make([]float64, n)
	}
	v := m.samples[:n]
	step := window / float64(n)
	w.fill(v, now-window+step/2, step)
	return v
}

func mean(v []float64) float64 {
	var sum float64
	for _, x := range v {
		sum += x
	}
	return sum / float64(len(v))
}

// rms is the true rms of what is left of the input without its mean, over two
// periods of the mains or the integration, whichever is longer.
func (m *meter) rms(w *wire, now float64) float64 {
	v := m.look(w, now, max(2/m.mainsHz, m.integration.Seconds()), 4000)
	middle, sum := mean(v), 0.0
	for _, x := range v {
		sum += (x - middle) * (x - middle)
	}
	return math.Sqrt(sum / float64(len(v)))
}

// resistance is what the load behind a point draws; an open input is beyond
// every range.
func (m *meter) resistance(w *wire, now float64) float64 {
	current := w.amperes(now)
	if math.IsNaN(current) || current == 0 {
		return math.MaxFloat32
	}
	return mean(m.look(w, now, 1/m.mainsHz, 100)) / current
}

// frequency counts rising passages through the mean over a gate of 0.1 s, with
// some hysteresis, and interpolates the first and the last. NaN: fewer than two.
func (m *meter) frequency(w *wire, now float64) float64 {
	const gate, n = 0.1, 20000
	v := m.look(w, now, gate, n)
	middle, spread := mean(v), 0.0
	for _, x := range v {
		spread = max(spread, math.Abs(x-middle))
	}
	armed, count := false, 0
	var first, last float64
	for i := 1; i < n; i++ {
		if v[i] < middle-spread/4 {
			armed = true
		}
		if armed && v[i-1] < middle && v[i] >= middle {
			last = float64(i-1) + (middle-v[i-1])/(v[i]-v[i-1])
			if count == 0 {
				first = last
			}
			count++
			armed = false
		}
	}
	if count < 2 || spread < 1e-3 {
		return math.NaN()
	}
	return float64(count-1) / ((last - first) * gate / n)
}

// nr3 writes a number with an exponent (IEEE 488.2, 8.7.4) down to the given
// resolution and not further, with one decimal at least.
func nr3(v, resolution float64) string {
	v = math.Round(v/resolution) * resolution
	decimals := 1
	if v != 0 {
		exponent := math.Floor(math.Log10(math.Abs(v)) + 1e-9)
		decimals = max(1, min(15, int(exponent-math.Round(math.Log10(resolution)))))
	}
	text := strconv.FormatFloat(v, 'E', decimals, 64)
	if v >= 0 {
		text = "+" + text
	}
	return text
}

package simbench

import (
	"math"
	"slices"
)

// measureCommands adds SCPI-1999's waveform functions under MEASure:VOLTage, each
// with a channel list of one channel.
func (s *scope) measureCommands(l *commands) {
	for header, of := range map[string]func(volts []float64, interval float64) float64{
		"PTPeak":  func(v []float64, _ float64) float64 { return slices.Max(v) - slices.Min(v) },
		"MAXimum": func(v []float64, _ float64) float64 { return slices.Max(v) },
		"MINimum": func(v []float64, _ float64) float64 { return slices.Min(v) },
		"DC":      func(v []float64, _ float64) float64 { return mean(v) },
		"AC":      func(v []float64, _ float64) float64 { return deviation(v) },
		"HIGH":    func(v []float64, _ float64) float64 { _, high := twoStates(v); return high },
		"LOW":     func(v []float64, _ float64) float64 { low, _ := twoStates(v); return low },
		"AMPLitude": func(v []float64, _ float64) float64 {
			low, high := twoStates(v)
			return high - low
		},
		"FREQuency": func(v []float64, dt float64) float64 { return 1 / periodOf(v, dt) },
		"PERiod":    periodOf,
	} {
		l.add("MEASure:VOLTage:"+header+"?", func(c *call) error { return s.measure(c, of) })
	}
}

// measure takes a record of the channel, or uses the one at hand when stopped.
func (s *scope) measure(c *call, of func([]float64, float64) float64) error {
	if err := c.want(1, 1); err != nil {
		return err
	}
	channels, err := c.channels(0)
	if err != nil {
		return err
	}
	if len(channels) != 1 || s.channels[channels[0]] == nil {
		return failure(-222, c.args[0])
	}
	if s.state == stateRun {
		if err := s.freeRun(c); err != nil {
			return err
		}
	}
	if err := s.complete(c); err != nil {
		return err
	}
	r := s.records[channels[0]]
	if r == nil {
		return failure(-230, "")
	}
	c.number = true
	v := of(r.volts(), r.interval)
	if math.IsNaN(v) || math.IsInf(v, 0) {
		return c.reply("9.91E37")
	}
	return c.reply("%+.4E", v)
}

// volts is what the scope itself computes with: its codes, not its input.
func (r *record) volts() []float64 {
	v := make([]float64, len(r.codes))
	for i, code := range r.codes {
		v[i] = r.low + float64(code)*r.step
	}
	return v
}

// deviation is the rms of what is left without the mean.
func deviation(v []float64) float64 {
	middle, sum := mean(v), 0.0
	for _, x := range v {
		sum += (x - middle) * (x - middle)
	}
	return math.Sqrt(sum / float64(len(v)))
}

// twoStates are the medians of what lies below and above the middle.
func twoStates(v []float64) (low, high float64) {
	sorted := slices.Sorted(slices.Values(v))
	middle := (sorted[0] + sorted[len(sorted)-1]) / 2
	cut, _ := slices.BinarySearch(sorted, middle)
	cut = max(1, min(cut, len(sorted)-1))
	return sorted[cut/2], sorted[(cut+len(sorted))/2]
}

// periodOf is the mean time between rising crossings of the middle; between two
// of them the signal must have been an eighth of its swing below, so that noise
// counts nothing. NaN with fewer than two.
func periodOf(v []float64, dt float64) float64 {
	low, high := twoStates(v)
	middle, low := (low+high)/2, (low+high)/2-(high-low)/8
	armed, count := false, 0
	var first, last float64
	for i := 1; i < len(v); i++ {
		armed = armed || v[i] < low
		if !armed || v[i-1] >= middle || v[i] < middle {
			continue
		}
		last = float64(i) - fraction(v, i, middle)
		if count == 0 {
			first = last
		}
		count++
		armed = false
	}
	if count < 2 {
		return math.NaN()
	}
	return (last - first) * dt / float64(count-1)
}

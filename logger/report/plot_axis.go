package report

import (
	"math"
	"strconv"
	"strings"
	"time"

	"gonum.org/v1/plot"
	"gonum.org/v1/plot/vg/draw"
)

// span is a range of figures that grows to hold what is put in.
type span struct{ low, high float64 }

func newSpan() span { return span{math.Inf(1), math.Inf(-1)} }

// take widens the span to hold v; figures that are not finite are left out.
func (s *span) take(figures ...float64) {
	for _, v := range figures {
		if drawable(v) {
			s.low, s.high = math.Min(s.low, v), math.Max(s.high, v)
		}
	}
}

func (s span) empty() bool { return s.low > s.high }

// padded is the span with a share of its width added at each end; a span of one
// figure gets some width, an empty one becomes 0 to 1.
func (s span) padded(share float64) span {
	if s.empty() {
		return span{0, 1}
	}
	width := s.high - s.low
	if width <= 1e-9*math.Max(math.Abs(s.low), math.Abs(s.high)) {
		width = math.Max(math.Abs(s.high)*0.1, 1e-3)
		share = 0.5
	}
	return span{s.low - share*width, s.high + share*width}
}

// decimalTicks are labelled ticks at multiples of 1, 2 or 5 times a power of ten,
// about wanted of them, with the unit behind each figure.
func decimalTicks(s span, wanted int, unit string) plot.ConstantTicks {
	raw := (s.high - s.low) / float64(wanted)
	power := math.Floor(math.Log10(raw))
	step := math.Pow(10, power)
	for _, factor := range []float64{1, 2, 5, 10} {
		if step = factor * math.Pow(10, power); step >= raw {
			break
		}
	}
	decimals := max(0, -int(math.Floor(math.Log10(step)*(1-1e-12)+1e-12)))
	var ticks plot.ConstantTicks
	for k := math.Ceil(s.low/step - 1e-9); k*step <= s.high+1e-9*step; k++ {
		label := strings.TrimSpace(strconv.FormatFloat(k*step+0, 'f', decimals, 64) + " " + unit)
		ticks = append(ticks, plot.Tick{Value: k * step, Label: label})
	}
	return ticks
}

// clockSteps are the distances that ticks of time may have.
var clockSteps = []time.Duration{
	time.Second, 2 * time.Second, 5 * time.Second, 10 * time.Second, 30 * time.Second,
	time.Minute, 2 * time.Minute, 5 * time.Minute, 10 * time.Minute, 30 * time.Minute,
	time.Hour, 2 * time.Hour, 3 * time.Hour, 6 * time.Hour, 12 * time.Hour, 24 * time.Hour,
}

// clockTicks are ticks at full times of the bench's clock (begin's own zone),
// about wanted of them, as seconds from begin. The first one and the first of
// each day carry the date.
func clockTicks(begin, end time.Time, wanted int) plot.ConstantTicks {
	raw := end.Sub(begin) / time.Duration(wanted)
	step := (raw + 24*time.Hour).Truncate(24 * time.Hour) // whole days where no smaller step will do
	for _, s := range clockSteps {
		if s >= raw {
			step = s
			break
		}
	}
	layout := "15:04"
	if step < time.Minute {
		layout = "15:04:05"
	}
	year, month, day := begin.Date()
	at := time.Date(year, month, day, 0, 0, 0, 0, begin.Location())
	at = at.Add(begin.Sub(at).Truncate(step))
	var ticks plot.ConstantTicks
	lastDay := 0
	for ; !at.After(end); at = at.Add(step) {
		if at.Before(begin) {
			continue
		}
		label := at.Format(layout)
		if at.YearDay() != lastDay {
			label, lastDay = at.Format("2 Jan "+layout), at.YearDay()
		}
		ticks = append(ticks, plot.Tick{Value: at.Sub(begin).Seconds(), Label: label})
	}
	return ticks
}

// grid draws a faint line across at every tick of the value axis.
type grid struct{ ticks plot.ConstantTicks }

// Plot draws the grid.
func (g grid) Plot(c draw.Canvas, p *plot.Plot) {
	_, toY := p.Transforms(&c)
	for _, tick := range g.ticks {
		c.StrokeLine2(pen(faintInk, 0.5), c.Min.X, toY(tick.Value), c.Max.X, toY(tick.Value))
	}
}

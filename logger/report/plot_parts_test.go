package report

import (
	"math"
	"slices"
	"strings"
	"testing"
	"time"

	"gonum.org/v1/plot"
	"gonum.org/v1/plot/vg"
)

func labels(ticks plot.ConstantTicks) string {
	var all []string
	for _, tick := range ticks {
		all = append(all, tick.Label)
	}
	return strings.Join(all, " ")
}

func TestDecimalTicks(t *testing.T) {
	tests := []struct {
		s    span
		want string
	}{
		{span{0, 1}, "0.0 0.2 0.4 0.6 0.8 1.0"},
		{span{-0.35, 0.8}, "-0.2 0.0 0.2 0.4 0.6 0.8"},
		{span{4.998, 5.003}, "4.998 4.999 5.000 5.001 5.002 5.003"},
		{span{0, 64}, "0 10 20 30 40 50 60"},
		{span{-1e6, 1e6}, "-1000000 -500000 0 500000 1000000"},
		{span{0, 2e-6}, "0.0000000 0.0000005 0.0000010 0.0000015 0.0000020"},
	}
	for _, tt := range tests {
		if got := labels(decimalTicks(tt.s, 7, "")); got != tt.want {
			t.Errorf("%v: %q, want %q", tt.s, got, tt.want)
		}
	}
}

// FuzzTicks holds that any two figures that can be drawn have some ticks, not
// many, all between them.
func FuzzTicks(f *testing.F) {
	f.Add(0.0, 1.0)
	f.Add(5.0, 5.0)
	f.Add(-1e30, 1e30)
	f.Add(1e-300, 2e-300)
	f.Fuzz(func(t *testing.T, a, b float64) {
		s := newSpan()
		s.take(a, b)
		s = s.padded(0.05)
		ticks := decimalTicks(s, 8, "V")
		if len(ticks) < 1 || len(ticks) > 12 {
			t.Fatalf("%v: %d ticks", s, len(ticks))
		}
		for _, tick := range ticks {
			if width := s.high - s.low; tick.Value < s.low-1e-6*width || tick.Value > s.high+1e-6*width {
				t.Fatalf("%v: tick at %v", s, tick.Value)
			}
		}
	})
}

func TestClockTicks(t *testing.T) {
	tests := []struct {
		length time.Duration
		want   string
	}{
		{30 * time.Second, "24 Nov 09:10:00 09:10:05 09:10:10 09:10:15 09:10:20 09:10:25 09:10:30"},
		{time.Hour, "24 Nov 09:10 09:20 09:30 09:40 09:50 10:00 10:10"},
		{8 * time.Hour, "24 Nov 10:00 11:00 12:00 13:00 14:00 15:00 16:00 17:00"},
		{24 * time.Hour, "24 Nov 12:00 15:00 18:00 21:00 25 Nov 00:00 03:00 06:00 09:00"},
		{20 * 24 * time.Hour, "27 Nov 00:00 30 Nov 00:00 3 Dec 00:00 6 Dec 00:00 9 Dec 00:00 12 Dec 00:00"},
	}
	for _, tt := range tests {
		if got := labels(clockTicks(soakBegin, soakBegin.Add(tt.length), 8)); got != tt.want {
			t.Errorf("%v: %q, want %q", tt.length, got, tt.want)
		}
	}
}

func TestSpreadKeepsFiguresApartAndInside(t *testing.T) {
	tests := []struct{ places, want []vg.Length }{
		{nil, nil},
		{[]vg.Length{50}, []vg.Length{50}},
		{[]vg.Length{50, 51}, []vg.Length{50, 60}},
		{[]vg.Length{0, 0, 0}, []vg.Length{0, 10, 20}},
		{[]vg.Length{100, 100}, []vg.Length{90, 100}},
		{[]vg.Length{-5, 105}, []vg.Length{0, 100}},
	}
	for _, tt := range tests {
		got := slices.Clone(tt.places)
		spread(got, 0, 100, 10)
		if !slices.Equal(got, tt.want) {
			t.Errorf("%v: %v, want %v", tt.places, got, tt.want)
		}
	}
	crowd := make([]vg.Length, 101)
	spread(crowd, 0, 100, 10)
	if crowd[0] != 0 || math.Abs(float64(crowd[100]-100)) > 1e-9 || math.Abs(float64(crowd[50]-50)) > 1e-9 {
		t.Errorf("a crowd is not spread evenly: %v", crowd)
	}
}

func TestTraceRunsLoseNoPeak(t *testing.T) {
	trace := Trace{IntervalSeconds: 1, Volts: make([]float64, 1_000_000)}
	trace.Volts[123_457], trace.Volts[765_431] = 5, -7
	trace.Volts[500_001] = math.NaN()
	runs := trace.runs(1000)
	if len(runs) != 2 {
		t.Fatalf("%d runs, want 2 around the gap", len(runs))
	}
	points := slices.Concat(runs...)
	if len(points) > 5*1000+5 {
		t.Errorf("%d points for 1000 columns", len(points))
	}
	if !slices.Contains(points, xy{123_457, 5}) || !slices.Contains(points, xy{765_431, -7}) {
		t.Error("a peak is lost")
	}
	if !slices.IsSortedFunc(points, func(a, b xy) int { return int(a.x - b.x) }) {
		t.Error("points are out of order")
	}
}

func TestTraceRunsPartAtGaps(t *testing.T) {
	nan := math.NaN()
	trace := Trace{IntervalSeconds: 1, Volts: []float64{nan, 1, 2, nan, math.Inf(1), 3, nan}}
	runs := trace.runs(1000)
	if len(runs) != 2 || len(runs[0]) != 2 || len(runs[1]) != 1 {
		t.Errorf("runs %v", runs)
	}
}

func TestEnvelopeRunsPartAtGaps(t *testing.T) {
	minute := func(m int) time.Time { return soakBegin.Add(time.Duration(m) * time.Minute) }
	p := SoakPlot{Begin: soakBegin, End: minute(60), Gaps: []PlotInterval{{minute(22), minute(25)}, {minute(3), minute(4)}}}
	for _, m := range []int{-5, 0, 1, 2, 5, 10, 20, 30, 40, 70} {
		p.Envelope = append(p.Envelope, EnvelopePoint{At: minute(m), Low: 1, High: 2})
	}
	p.Envelope[8].Low = math.NaN()
	var lengths []int
	for _, run := range p.runs() {
		lengths = append(lengths, len(run))
	}
	// 0 1 2 | 5 10 20 | 30 | (40 has no figure; before begin and after end not drawn)
	if !slices.Equal(lengths, []int{3, 3, 1}) {
		t.Errorf("runs of %v", lengths)
	}
}

func TestPlotsSayWhatCannotBeDrawn(t *testing.T) {
	good := Trace{Label: "a", IntervalSeconds: 1, Volts: []float64{0, 1}}
	bad := func(change func(p *SoakPlot)) SoakPlot {
		p := nightSoak()
		change(&p)
		return p
	}
	tests := []struct {
		want string
		plot interface{ Validate() error }
	}{
		{"no trace", LinePlot{}},
		{"no trace has a sample", LinePlot{Traces: []Trace{{IntervalSeconds: 1, Volts: []float64{math.NaN(), math.Inf(1)}}}}},
		{`trace "b": interval 0 s`, LinePlot{Traces: []Trace{good, {Label: "b", Volts: []float64{1}}}}},
		{"interval NaN s", LinePlot{Traces: []Trace{good}, Baseline: &Trace{IntervalSeconds: math.NaN(), Volts: []float64{1}}}},
		{`ruler "r": NaN V`, LinePlot{Traces: []Trace{good}, Rulers: []Ruler{{Label: "r", Volts: math.NaN()}}}},
		{"the soak ends at", bad(func(p *SoakPlot) { p.End = p.Begin })},
		{"limits 5.25 to 5.25", bad(func(p *SoakPlot) { p.Low = p.High })},
		{"limits NaN", bad(func(p *SoakPlot) { p.Low = math.NaN() })},
		{"guard band -1 wide", bad(func(p *SoakPlot) { p.GuardWidth = -1 })},
		{"stand behind later ones", bad(func(p *SoakPlot) { slices.Reverse(p.Envelope) })},
		{"from 2 to 1", bad(func(p *SoakPlot) { p.Envelope[0].Low, p.Envelope[0].High = 2, 1 })},
		{"ends before it begins", bad(func(p *SoakPlot) { p.Gaps[0].To = p.Begin })},
		{"worst NaN", bad(func(p *SoakPlot) { p.Excursions[0].Worst = math.NaN() })},
	}
	for _, tt := range tests {
		err := tt.plot.Validate()
		if err == nil || !strings.Contains(err.Error(), tt.want) {
			t.Errorf("%v does not say %q", err, tt.want)
		}
	}
	if err := trialPlot().Validate(); err != nil {
		t.Error(err)
	}
}

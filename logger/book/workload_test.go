package book

import (
	"math"
	"math/rand/v2"
	"testing"
	"time"

	"soakline/checks"
	"soakline/device"
	"soakline/device/scpi"
)

// workload is a bench in full use: 16 test points, 10 readings/s each. Values have
// 6 or 7 digits (NR3), walk by a last digit at a time, and are noisy on the last
// digit (ten values, even) or the last two (normal, 10 counts). Times are on the
// even interval plus what host and line take, 0.2 to 2 ms. Uncertainties are those
// of an accuracy clause. The same seed gives the same readings.
//
// A reading has about 1.9 bytes of information in it: 10.8 bits of time at 1 us,
// 3.3 or 5.4 bits of noise.
type workload struct {
	random  *rand.Rand
	points  [16]workloadPoint
	next    int
	timeUTC time.Time
}

type workloadPoint struct {
	tag      Tag
	level    int64
	exponent int32
	wide     bool // noise on two digits
	accuracy device.Accuracy
}

func newWorkload(seed uint64) *workload {
	w := &workload{random: rand.New(rand.NewPCG(seed, 1)), timeUTC: begin}
	for i := range w.points {
		p := &w.points[i]
		p.tag = rail
		p.tag.TestPoint = checks.TestPointName("tp-" + string(rune('a'+i)))
		p.exponent, p.level, p.wide = -5, 501210+int64(i)*20000, i%2 == 1
		if i%4 >= 2 {
			p.exponent, p.level = -6, 5012100+int64(i)*200000
		}
		p.accuracy = device.Accuracy{PercentOfReading: 0.015 + 0.005*float64(i%3), PercentOfRange: 0.004, Range: 10}
	}
	return w
}

// perSecond is how many readings the workload has in a second.
const perSecond = 160

// read returns the next n readings.
func (w *workload) read(n int) []TaggedReading { return w.readInto(make([]TaggedReading, n)) }

// readInto puts the next readings where others were.
func (w *workload) readInto(readings []TaggedReading) []TaggedReading {
	for i := range readings {
		p := &w.points[w.next%len(w.points)]
		jitter := time.Duration(200+w.random.Int64N(1801)) * time.Microsecond
		at := w.timeUTC.Add(time.Duration(w.next/len(w.points))*100*time.Millisecond + jitter)
		p.level += w.random.Int64N(3) - 1
		noise := w.random.Int64N(10) - 5
		if p.wide {
			noise = int64(math.Round(10 * w.random.NormFloat64()))
		}
		d := scpi.NewDecimal(p.level+noise, p.exponent)
		readings[i] = TaggedReading{p.tag, device.Reading{
			Measure: p.tag.Measure, Value: d.Float64(), Digits: d, At: at,
			StandardUncertainty: checks.FromAccuracy(p.accuracy, d.Float64(), d.Resolution()),
		}}
		w.next++
	}
	return readings
}

// figuresOf are the figures of the readings of one test point.
func figuresOf(t testing.TB, readings []TaggedReading, point int) []figure {
	t.Helper()
	var figures []figure
	for i := point; i < len(readings); i += 16 {
		f, err := toFigure(&readings[i].Reading)
		must(t, err)
		figures = append(figures, f)
	}
	return figures
}

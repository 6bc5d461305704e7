package audio

import (
	"cmp"
	"errors"
	"fmt"
	"math"
	"slices"
)

// ResponsePoint is the level at one frequency against that at the reference
// frequency.
type ResponsePoint struct {
	Hertz    float64
	Volts    Measured // rms
	Decibels Measured
}

// errNoResponse says that a record holds neither steps nor a sweep.
var errNoResponse = errors.New("neither stepped tones nor a sweep can be made out")

const (
	// frameSeconds is how long a look at the record is; a frame must hold four cycles.
	frameSeconds = 0.1
	frameCycles  = 4
	// pointsPerOctave is how finely a sweep is laid out.
	pointsPerOctave = 12
)

// frame is a short look at the record: the rms and the frequency of its one tone.
type frame struct{ hertz, volts float64 }

// Response goes through one channel of a record of tones that follow each other, in
// steps or as a slow sweep, all played at the same level, and returns the level at
// each frequency against that nearest to referenceHertz (1 kHz where it is 0), by
// rising frequency. Steps must last 0.3 s or more, a sweep take 0.3 s or more for an
// octave. It fails, with ErrRecord in the error, where neither can be made out.
//
// A frame counts where its tone's frequency and level are those of the frames beside
// it, so that what lies across a step is left out; frames are gathered by twelfths of
// an octave, and Decibels.U is from how they scatter.
func Response(record Record, channel int, referenceHertz float64) ([]ResponsePoint, error) {
	if err := record.check(); err != nil {
		return nil, fmt.Errorf("frequency response: %w", err)
	}
	if channel < 0 || channel >= len(record.Channels) {
		return nil, fmt.Errorf("frequency response: no channel %d: there are %d", channel+1, len(record.Channels))
	}
	if referenceHertz == 0 {
		referenceHertz = 1000
	}
	groups := map[int][]frame{}
	for _, f := range steadyFrames(framesOf(record.Channels[channel].Volts, record.SampleIntervalSeconds)) {
		group := int(math.Round(pointsPerOctave * math.Log2(f.hertz/referenceHertz)))
		groups[group] = append(groups[group], f)
	}
	var points []ResponsePoint
	for _, frames := range groups {
		points = append(points, pointOf(frames))
	}
	if len(points) < 2 {
		return nil, fmt.Errorf("frequency response: %w: %w", ErrRecord, errNoResponse)
	}
	slices.SortFunc(points, func(a, b ResponsePoint) int { return cmp.Compare(a.Hertz, b.Hertz) })
	against := slices.MinFunc(points, func(a, b ResponsePoint) int {
		return cmp.Compare(math.Abs(math.Log(a.Hertz/referenceHertz)), math.Abs(math.Log(b.Hertz/referenceHertz)))
	})
	for i, p := range points {
		points[i].Decibels = p.Volts.over(against.Volts).Decibels(1)
	}
	return points, nil
}

// framesOf cuts the samples into frames that overlap by half.
func framesOf(v []float64, dt float64) []frame {
	n := int(frameSeconds / dt)
	if n < leastSamples {
		return nil
	}
	var frames []frame
	for from := 0; from+n <= len(v); from += n / 2 {
		frames = append(frames, frameOf(v[from:from+n], dt))
	}
	return frames
}

// frameOf finds the frequency of a frame from how often it rises through its mean
// and its rms over whole cycles, which leaves nothing of a part of one.
func frameOf(v []float64, dt float64) frame {
	mean := 0.0
	for _, x := range v {
		mean += x / float64(len(v))
	}
	first, last, cycles := math.NaN(), math.NaN(), -1
	for i := 1; i < len(v); i++ {
		a, b := v[i-1]-mean, v[i]-mean
		if a < 0 && b >= 0 {
			last = float64(i-1) + a/(a-b)
			if cycles++; cycles == 0 {
				first = last
			}
		}
	}
	if cycles < frameCycles {
		return frame{math.NaN(), math.NaN()}
	}
	from, to := int(math.Round(first)), int(math.Round(last))
	var sum, square float64
	for _, x := range v[from:to] {
		sum += x
	}
	count := float64(to - from)
	for _, x := range v[from:to] {
		square += (x - sum/count) * (x - sum/count)
	}
	return frame{hertz: float64(cycles) / ((last - first) * dt), volts: math.Sqrt(square / count)}
}

// steadyFrames are those whose neighbours on both sides are of about the same
// frequency and level.
func steadyFrames(frames []frame) []frame {
	alike := func(a, b frame) bool {
		return math.Abs(math.Log2(a.hertz/b.hertz)) < 0.2 && math.Abs(math.Log(a.volts/b.volts)) < 0.15
	}
	var steady []frame
	for i := 1; i+1 < len(frames); i++ {
		if alike(frames[i], frames[i-1]) && alike(frames[i], frames[i+1]) {
			steady = append(steady, frames[i])
		}
	}
	return steady
}

// pointOf is the mean of frames.
func pointOf(frames []frame) ResponsePoint {
	n := float64(len(frames))
	var p ResponsePoint
	for _, f := range frames {
		p.Hertz += f.hertz / n
		p.Volts.Value += f.volts / n
	}
	var scatter float64
	for _, f := range frames {
		scatter += (f.volts - p.Volts.Value) * (f.volts - p.Volts.Value)
	}
	if len(frames) > 1 {
		p.Volts.U = math.Sqrt(scatter / (n - 1) / n)
	}
	return p
}

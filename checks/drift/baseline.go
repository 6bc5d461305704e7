package drift

import "math"

// Baseline is what a series was like at its beginning, and so what it is compared
// with.
type Baseline struct {
	// Target is the mean, TargetU its standard uncertainty.
	Target, TargetU float64
	// Sigma is the standard deviation of one reading about the baseline's own
	// straight line, Autocorrelation that of neighbouring readings.
	Sigma, Autocorrelation float64
	// Independent is how many independent readings the baseline is worth.
	Independent float64
	// BatchSize is how many readings are averaged to one charted value, LongRunSD
	// the standard deviation that such averages show in sums over a long time.
	BatchSize int
	LongRunSD float64
	// Floor is the readings' own resolution, the smallest step that they made.
	Floor float64

	batchSD  float64
	readings float64
}

const (
	// baselineBatches is the least number of batches that a baseline is cut into;
	// there are fewer than twice as many. No source: enough for an autocorrelation,
	// few enough for batches that outlast most of it.
	baselineBatches = 32
	// independentEnough ends a baseline in time (no source).
	independentEnough = 20
	// longestBaseline is how many times the baseline may be prolonged.
	longestBaseline = 4
	// batchCaution is how many standard errors are added to an autocorrelation that
	// was learnt from so few batches (no source: chosen by simulation).
	batchCaution = 0.5
	// constantFloor is the least shift of a level that was constant to the last
	// digit, where nothing else tells the resolution: a part of the level itself.
	constantFloor = 1e-4
)

// learn takes the measure of a record. The long-run variance is the larger of two
// estimates: from neighbouring readings, which are many, and from neighbouring
// batches, which also see a slow wander under independent noise. Both are taken
// about the straight line, so that a drift that is there from the beginning counts
// as drift and not as noise. ok is false while there are too few readings.
func learn(times, s *Stream, batches *Batches, step float64) (b Baseline, ok bool) {
	t, x, size := batches.Means(2*baselineBatches - 1)
	if len(x) < baselineBatches {
		return b, false
	}
	line, err := FitLine(t, x)
	if err != nil {
		return b, false
	}
	n := float64(s.N())
	drifted := line.Slope * line.Slope * times.deviations()
	variance := max(0, s.deviations()-drifted) / (n - 2)
	variance = max(variance, s.StepVariance()/4) // no autocorrelation is below -1
	b = Baseline{Target: s.Mean(), Sigma: math.Sqrt(variance), BatchSize: size, Floor: step, readings: n}
	if variance > 0 {
		b.Autocorrelation = correctedLag1(1-s.StepVariance()/(2*variance), s.N())
	}
	perReading := variance * inflation(b.Autocorrelation)
	batchVariance := line.SSResidual / float64(line.Freedom)
	caution := batchCaution / math.Sqrt(float64(len(x)))
	perBatch := batchVariance * inflation(min(residualLag1(line.residuals(t, x))+caution, 0.999))
	longRun := max(perReading/float64(size), perBatch)
	b.LongRunSD = math.Sqrt(longRun)
	// A batch spread far below the long-run one is itself ill known.
	b.batchSD = max(math.Sqrt(batchVariance), b.LongRunSD/4)
	b.TargetU = math.Sqrt(longRun * float64(size) / n)
	b.Independent = n
	if longRun > 0 {
		b.Independent = min(n, n*variance/(longRun*float64(size)))
	} else {
		b.Floor = max(b.Floor, constantFloor*math.Abs(b.Target))
	}
	return b, true
}

// baselineOf takes a reference for what a baseline would have taught.
func baselineOf(r Reference) Baseline {
	return Baseline{
		Target: r.Target, Sigma: r.Sigma, Autocorrelation: r.Autocorrelation,
		Independent: math.Inf(1), BatchSize: 1,
		LongRunSD: r.Sigma * math.Sqrt(inflation(r.Autocorrelation)), batchSD: r.Sigma,
	}
}

// batchAutocorrelation is that of an AR(1) series with the same long-run spread.
func (b Baseline) batchAutocorrelation() float64 {
	longRun, batch := b.LongRunSD*b.LongRunSD, b.batchSD*b.batchSD
	if !(longRun > batch) {
		return 0
	}
	return (longRun - batch) / (longRun + batch)
}

// studentWidening is how many times wider than for a known spread limits at width
// standard deviations must be, where the spread was learnt from so many independent
// values: Student's t instead of the normal distribution at the same probability
// (common practice).
func studentWidening(width, independent float64) float64 {
	if math.IsInf(independent, 1) {
		return 1
	}
	return studentQuantile(math.Erfc(-width/math.Sqrt2)/2, max(independent-2, 1)) / width
}

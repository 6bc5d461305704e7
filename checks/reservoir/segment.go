package reservoir

import "math"

// segment is the part of a fall that is an exponential, as indices of its readings:
// from knee up to end. Before the knee the fall is a straight line, or there is no
// such part and the knee is 0.
type segment struct {
	knee, end int
	// lineSlope is how fast the straight part changes, in V/s; NaN without one.
	lineSlope float64
	// squares is the sum of squares about both parts; NaN without a straight one.
	squares float64
	// steeper tells that the fall became faster at the knee: not a regulator that
	// drops out but a load that was put on.
	steeper bool
}

const (
	leastLine  = 5 // readings of a straight part
	leastDecay = 6 // readings of an exponential part
)

// splitFall finds where a fall stops being a straight line (a regulator draws
// constant current until it drops out) and starts being an exponential over a
// floor. For every reading as the knee and a ladder of rates, both sides are fitted
// by linear least squares; the ladder is then drawn in around the best rate.
func splitFall(t, v []float64) segment {
	if len(t) < leastLine+leastDecay {
		return whole(len(t))
	}
	lines := newLineSums(t, v)
	ladder := rateLadder(t)
	single, split, knee := math.Inf(1), math.Inf(1), 0
	for range 4 {
		bestRate := ladder[0]
		for _, rate := range ladder {
			right := decaySquares(t, v, rate)
			if right[0] < single {
				single = right[0]
			}
			for k := leastLine; k <= len(t)-leastDecay; k++ {
				if both := lines.squares(k) + right[k]; both < split {
					split, knee, bestRate = both, k, rate
				}
			}
		}
		step := math.Pow(ladder[len(ladder)-1]/ladder[0], 1/float64(len(ladder)-1))
		ladder = around(bestRate, step)
	}
	noise := noiseOf(v)
	least := float64(len(t)) * noise * noise
	n := float64(len(t))
	if !(n*math.Log((singleSquares(t, v, single)+least)/(split+least)) > 12+4*math.Log(n)) {
		return whole(len(t))
	}
	slope := lines.slope(knee)
	if !(slope < 0) {
		return whole(len(t))
	}
	after := (v[min(knee+2, len(v)-1)] - v[knee]) / (t[min(knee+2, len(v)-1)] - t[knee])
	return segment{knee: knee, end: len(t), lineSlope: slope, squares: split, steeper: after < 1.5*slope}
}

// whole is a fall without a straight part.
func whole(readings int) segment {
	return segment{end: readings, lineSlope: math.NaN(), squares: math.NaN()}
}

// singleSquares is the least sum of squares of a whole fall as one exponential,
// settled beyond the ladder, or as a straight line, which is a very slow one.
func singleSquares(t, v []float64, byLadder float64) float64 {
	best := min(byLadder, newLineSums(t, v).squares(len(t)))
	if c, err := fitDecay(t, v, floorBelief{}); err == nil {
		best = min(best, c.fit.squares)
	}
	return best
}

// around is a ladder one step to either side of a rate.
func around(rate, step float64) []float64 {
	const rungs = 17
	ladder := make([]float64, rungs)
	for i := range ladder {
		ladder[i] = rate * math.Pow(step, 2*float64(i)/(rungs-1)-1)
	}
	return ladder
}

// decaySquares returns for each k the sum of squares of the readings from k on about
// their best exponential of a rate over their best floor.
func decaySquares(t, v []float64, rate float64) []float64 {
	out := make([]float64, len(t))
	var n, ee, e1, ev, sv, vv float64
	last := v[len(v)-1]
	for k := len(t) - 1; k >= 0; k-- {
		e := math.Exp(-rate * (t[k] - t[0]))
		y := v[k] - last
		n++
		ee += e * e
		e1 += e
		ev += e * y
		sv += y
		vv += y * y
		det := ee*n - e1*e1
		if !(det > 1e-12*ee*n) {
			out[k] = max(0, vv-sv*sv/n)
			continue
		}
		level, floor := (ev*n-sv*e1)/det, (ee*sv-e1*ev)/det
		out[k] = max(0, vv-level*ev-floor*sv)
		if level <= 0 {
			out[k] = max(0, vv-sv*sv/n)
		}
	}
	return out
}

// lineSums hold sums of the first k readings, for straight lines through them.
type lineSums struct {
	t0, v0             float64
	st, sv, tt, tv, vv []float64
}

func newLineSums(t, v []float64) lineSums {
	n := len(t) + 1
	s := lineSums{t[0], v[0], make([]float64, n), make([]float64, n), make([]float64, n), make([]float64, n), make([]float64, n)}
	for i := range t {
		x, y := t[i]-s.t0, v[i]-s.v0
		s.st[i+1], s.sv[i+1] = s.st[i]+x, s.sv[i]+y
		s.tt[i+1], s.tv[i+1], s.vv[i+1] = s.tt[i]+x*x, s.tv[i]+x*y, s.vv[i]+y*y
	}
	return s
}

func (s lineSums) centred(k int) (tt, tv, vv float64) {
	n := float64(k)
	return s.tt[k] - s.st[k]*s.st[k]/n, s.tv[k] - s.st[k]*s.sv[k]/n, s.vv[k] - s.sv[k]*s.sv[k]/n
}

func (s lineSums) squares(k int) float64 {
	tt, tv, vv := s.centred(k)
	return max(0, vv-tv*tv/tt)
}

func (s lineSums) slope(k int) float64 {
	tt, tv, _ := s.centred(k)
	return tv / tt
}

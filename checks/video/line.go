package video

import "math"

// line is one line of the record, from the leading edge of its sync.
type line struct {
	// start and syncEnd are the 50 % instants of line sync in seconds; syncEnd is
	// NaN where the record ends before.
	start, syncEnd float64
	// end is the start of the next line, or of where it should be; it may lie
	// beyond the record.
	end float64
	// tip and porch are sync tip and blanking of this line; NaN where cut off.
	tip, porch float64
}

// lineGap is the longest gap, in lines, over which the phase of lines is carried:
// vertical sync without serrations hides a few.
const lineGap = 30

// linePulses picks from all pulses those that begin a line: as long as line sync
// and a whole number of lines from the one before. The period is the median
// distance of neighbours; NaN if there is only one pulse. Only where there is no
// other does a pulse that the record begins with count for it.
func linePulses(all []stretch) (lines []stretch, period float64) {
	candidates := make([]stretch, 0, len(all))
	typical := lineSyncWidth(all)
	for _, p := range all {
		// Of a pulse that the record ends in, the edge tells as much as any other.
		begun := p.open && p.width() > 0.8*microsecond && len(candidates) > 0
		if begun || p.isLineSync() && math.Abs(p.width()-typical) < 0.2*typical {
			candidates = append(candidates, p)
		}
	}
	var gaps []float64
	for i := 1; i < len(candidates); i++ {
		whole := !candidates[i-1].cut || len(candidates) == 2
		if gap := candidates[i].start - candidates[i-1].start; whole && gap >= periodShortest && gap <= periodLongest {
			gaps = append(gaps, gap)
		}
	}
	period = median(gaps)
	if len(candidates) <= 1 {
		return candidates, period
	}
	for i, p := range candidates {
		if inPhase(lines, p, period) || i+1 < len(candidates) && isPeriod(candidates[i+1].start-p.start, period) {
			lines = append(lines, p)
		}
	}
	return lines, period
}

// inPhase tells whether p is a whole number of periods after the last line.
func inPhase(lines []stretch, p stretch, period float64) bool {
	if len(lines) == 0 {
		return false
	}
	n := (p.start - lines[len(lines)-1].start) / period
	return math.Round(n) >= 1 && n < lineGap && math.Abs(n-math.Round(n)) < 0.01
}

func isPeriod(gap, period float64) bool { return math.Abs(gap-period) < 0.01*period }

// refine finds the edges of sync among the samples, near where the blocks showed
// them. A pulse that the record begins with may turn out to be whole.
func (a *analysis) refine(p stretch, tipVolts float64) (l line, begins bool) {
	l = line{start: p.start, syncEnd: p.end, tip: tipVolts, porch: math.NaN()}
	if tip, _ := a.record.between(p.start+0.8*microsecond, p.end-0.8*microsecond); len(tip) > 0 {
		l.tip = mean(tip)
	}
	level := l.tip + a.depth/2
	reach := 0.7 * microsecond
	if t := a.crossing(p.start-reach, p.start+reach, level, false); !math.IsNaN(t) {
		l.start, begins = t, true
	}
	l.syncEnd = a.crossing(p.end-reach, p.end+reach, level, true)
	return l, begins
}

// crossing returns where the record first passes level from one instant to
// another, upwards or downwards; NaN if it does not. Samples closer than the
// crossing needs are averaged over 40 ns.
func (a *analysis) crossing(from, to, level float64, up bool) float64 {
	v, start := a.record.between(from, to)
	dt := a.record.SampleIntervalSeconds
	n := max(1, int(math.Round(40e-9/dt)))
	if len(v) <= n {
		return math.NaN()
	}
	sum := 0.0
	for _, x := range v[:n] {
		sum += x
	}
	before := sum / float64(n)
	for i := n; i < len(v); i++ {
		sum += v[i] - v[i-n]
		now := sum / float64(n)
		if up && before < level && now >= level || !up && before >= level && now < level {
			at := float64(i-n) + float64(n-1)/2 + (level-before)/(now-before)
			return start + at*dt
		}
		before = now
	}
	return math.NaN()
}

// linePeriod fits a straight line through the starts of lines against their
// number, which gives the period and its uncertainty. Pieces between jumps of the
// phase are fitted each by itself and pooled.
func linePeriod(lines []line, period, dt float64) Measured {
	if len(lines) < 2 || math.IsNaN(period) {
		return notMeasured()
	}
	var xy, xx, left float64
	var points int
	for begin := 0; begin < len(lines); {
		end, number := piece(lines, begin, period)
		t := make([]float64, end-begin)
		for i := range t {
			t[i] = lines[begin+i].start - lines[begin].start - float64(number[i])*period
		}
		mx, mt := meanInt(number), mean(t)
		var pxy, pxx float64
		for i := range t {
			x := float64(number[i]) - mx
			pxy += x * (t[i] - mt)
			pxx += x * x
		}
		for i := range t {
			x := float64(number[i]) - mx
			r := t[i] - mt
			if pxx > 0 {
				r -= pxy / pxx * x
			}
			left += r * r
		}
		xy, xx, points = xy+pxy, xx+pxx, points+len(t)-2
		begin = end
	}
	if xx == 0 {
		return notMeasured()
	}
	jitter := dt / math.Sqrt(12)
	if points > 0 {
		jitter = math.Max(math.Sqrt(left/float64(points)), dt/20)
	}
	return Measured{Value: period + xy/xx, U: jitter / math.Sqrt(xx)}
}

// piece returns the end of the lines in phase from begin on, and their numbers.
func piece(lines []line, begin int, period float64) (end int, number []int) {
	number = []int{0}
	for end = begin + 1; end < len(lines); end++ {
		n := (lines[end].start - lines[end-1].start) / period
		if math.Abs(n-math.Round(n)) > 0.01 {
			break
		}
		number = append(number, number[len(number)-1]+int(math.Round(n)))
	}
	return end, number
}

func meanInt(v []int) float64 {
	var sum int
	for _, x := range v {
		sum += x
	}
	return float64(sum) / float64(len(v))
}

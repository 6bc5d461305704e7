package video

import "math"

// Gates for line sync (common practice, wide: consoles use 4.4 to 5.0 us) and for
// the line period (±1 % about both systems).
const (
	syncShortest, syncLongest     = 3.7 * microsecond, 6.0 * microsecond
	periodShortest, periodLongest = 62.8 * microsecond, 64.8 * microsecond
	// tipWindow holds a whole line sync pulse wherever it begins.
	tipWindow = 70 * microsecond
)

// stretch is a part of the record below the slicing level, in seconds.
type stretch struct {
	start, end float64
	// cut tells that the record begins within it, perhaps just at its edge; open that
	// it ends within it.
	cut, open bool
}

func (p stretch) width() float64 { return p.end - p.start }

// isLineSync goes by the width; a pulse that the record begins with must be as long as
// a whole one, 4.7 us give or take what consoles do.
func (p stretch) isLineSync() bool {
	if p.open {
		return false
	}
	if p.cut {
		return p.width() >= 4.3*microsecond && p.width() <= 5.2*microsecond
	}
	return p.width() >= syncShortest && p.width() <= syncLongest
}

// slicer cuts a smoothed record at a level that follows its lowest parts, so that
// hum, tilt and coupling do not move the cut.
type slicer struct {
	scan     scan
	smooth   []float64 // block means, three at a time
	tips     []float64 // lowest of smooth in each window
	perTip   int
	depth    float64 // sync tip to blanking
	inverted bool
}

// newSlicer looks for sync in s. ok is false if there is none.
func newSlicer(s scan, inverted bool) (c slicer, ok bool) {
	c = slicer{scan: s, perTip: int(math.Ceil(tipWindow / s.dt)), inverted: inverted}
	if len(s.means) < 20 || s.dt > 0.3*microsecond || !(s.high > s.low) {
		return c, false
	}
	c.smooth = smoothed(s.means, inverted)
	c.tips = lowest(c.smooth, c.perTip)
	return c, c.findDepth()
}

// smoothed averages three neighbours; it turns the record upside down if asked to.
func smoothed(v []float64, inverted bool) []float64 {
	third := 1.0 / 3
	if inverted {
		third = -third
	}
	out := make([]float64, len(v))
	a, b := v[0], v[1]
	for i, c := range v[2:] {
		out[i+1] = third * (a + b + c)
		a, b = b, c
	}
	out[0], out[len(v)-1] = out[1], out[len(v)-2]
	return out
}

// lowest returns the smallest value of each n neighbours; what is left over at the
// end belongs to the last window.
func lowest(v []float64, n int) []float64 {
	out := make([]float64, max(1, len(v)/n))
	for i := range out {
		end := (i + 1) * n
		if i == len(out)-1 {
			end = len(v)
		}
		least := v[i*n]
		for _, x := range v[i*n : end] {
			if x < least {
				least = x
			}
		}
		out[i] = least
	}
	return out
}

func (c slicer) tip(i int) float64 { return c.tips[min(i/c.perTip, len(c.tips)-1)] }

// height is how far block i lies above the local tip.
func (c slicer) height(i int) float64 { return c.smooth[i] - c.tip(i) }

// places are where in a record sync is looked for, as shares of its length: unevenly,
// so that not all fall into field blanking.
var places = []float64{0.41, 0.66, 0.17, 0, 1}

// findDepth tries many slicing levels on a few lines, at one place after another
// until nearly every line shows sync, and keeps the place where the most levels
// agree.
func (c *slicer) findDepth() bool {
	const windows = 6
	n := min(windows*c.perTip, len(c.smooth))
	var best levelTrial
	for _, share := range places {
		from := int(share * float64(len(c.smooth)-n))
		if t := c.tryLevels(from, from+n); t.score > best.score {
			best = t
		}
		if n == len(c.smooth) || best.score >= 2*windows-2 {
			break
		}
	}
	if best.score == 0 {
		return false
	}
	c.depth = c.porchHeight(best)
	return c.depth > 0 && c.steep(best)
}

// levelTrial is the stretch of slicing levels on which line sync was found best.
type levelTrial struct {
	from, to  int // blocks
	score     int
	low, high float64 // levels above the tip
}

// tryLevels slices blocks from to to at many levels. A level is good if nearly all
// that it cuts is as long as line sync and comes once per line.
func (c slicer) tryLevels(from, to int) levelTrial {
	const levels = 56
	heights := make([]float64, to-from)
	var top float64
	for i := range heights {
		heights[i] = c.height(from + i)
		top = math.Max(top, heights[i])
	}
	scores := make([]int, levels)
	best := 0
	for k := 1; k < levels; k++ {
		scores[k] = c.score(heights, top*float64(k)/levels)
		best = max(best, scores[k])
	}
	if best == 0 {
		return levelTrial{}
	}
	first, last := heaviestRun(scores, max(1, best/3))
	return levelTrial{
		from: from, to: to, score: scores[(first+last)/2],
		low: top * float64(first) / levels, high: top * float64(last) / levels,
	}
}

// score counts line sync pulses and how often the next one comes a line later, less
// what else is cut; 0 if that does not look like sync.
func (c slicer) score(heights []float64, level float64) int {
	var good, pairs, bad int
	last := math.Inf(-1)
	for _, p := range cut(heights, level, c.scan.dt) {
		switch w := p.width(); {
		case p.isLineSync():
			good++
			if gap := p.start - last; gap >= periodShortest && gap <= periodLongest {
				pairs++
			}
			last = p.start
		case p.cut:
		case w < 1.7*microsecond || w < 20*microsecond && w > syncLongest:
			bad++
		}
	}
	short := float64(len(heights))*c.scan.dt < 2.2*periodLongest
	if 2*bad > good || pairs == 0 && (!short || good != 1) {
		return 0
	}
	return good + pairs - 2*bad
}

// cut returns the stretches of heights below level that end inside, and begin inside
// or where the heights do.
func cut(heights []float64, level, dt float64) []stretch {
	var all []stretch
	start := math.NaN()
	first := true
	if heights[0] < level {
		start = -dt / 2
	}
	for i := 1; i < len(heights); i++ {
		a, b := heights[i-1], heights[i]
		switch {
		case a >= level && b < level:
			start = (float64(i-1) + (a-level)/(a-b)) * dt
		case a < level && b >= level && !math.IsNaN(start):
			end := (float64(i-1) + (level-a)/(b-a)) * dt
			all = append(all, stretch{start: start, end: end, cut: first && heights[0] < level})
			start, first = math.NaN(), false
		}
	}
	return all
}

// heaviestRun returns the stretch of scores that are at least least with the largest
// sum.
func heaviestRun(scores []int, least int) (first, last int) {
	heaviest, sum, begin := 0, 0, 0
	for i, s := range scores {
		if s < least {
			sum, begin = 0, i+1
			continue
		}
		sum += s
		if sum > heaviest {
			first, last, heaviest = begin, i, sum
		}
	}
	return first, last
}

// porchHeight returns the median height of the porches over the tip; 0 if no pulse
// has one.
func (c slicer) porchHeight(t levelTrial) float64 {
	heights := make([]float64, t.to-t.from)
	for i := range heights {
		heights[i] = c.height(t.from + i)
	}
	var porches []float64
	for _, p := range cut(heights, (t.low+t.high)/2, c.scan.dt) {
		if !p.isLineSync() {
			continue
		}
		from, to := p.end+0.9*microsecond, p.end+3.4*microsecond
		if to > float64(len(heights))*c.scan.dt {
			// The record ends here: the front porch will do.
			from, to = p.start-1.2*microsecond, p.start-0.5*microsecond
		}
		if i, j := int(from/c.scan.dt), int(to/c.scan.dt); 0 <= i && i < j {
			porches = append(porches, mean(heights[i:j]))
		}
	}
	if len(porches) == 0 {
		return 0
	}
	return median(porches)
}

// steep tells sync from the bottoms of a smooth wave: its width hardly depends on
// the slicing level.
func (c slicer) steep(t levelTrial) bool {
	if t.high > 2*c.depth || t.high < 1.6*t.low {
		return false
	}
	heights := make([]float64, t.to-t.from)
	for i := range heights {
		heights[i] = c.height(t.from + i)
	}
	narrow := lineSyncWidth(cut(heights, 0.3*c.depth, c.scan.dt))
	wide := lineSyncWidth(cut(heights, 0.7*c.depth, c.scan.dt))
	return wide-narrow < 1.2*microsecond
}

// lineSyncWidth is the median width of line sync pulses; NaN if there are none.
func lineSyncWidth(all []stretch) float64 {
	var widths []float64
	for _, p := range all {
		if p.isLineSync() {
			widths = append(widths, p.width())
		}
	}
	return median(widths)
}

// pulses cuts the whole record half way between tip and blanking; the last may be
// open.
func (c slicer) pulses() []stretch {
	var all []stretch
	level := c.depth / 2
	start := math.NaN()
	before := c.smooth[0] - c.tips[0]
	cut := before < level
	if cut {
		start = c.scan.at(-0.5)
	}
	for w, tip := range c.tips {
		end := (w + 1) * c.perTip
		if w == len(c.tips)-1 {
			end = len(c.smooth)
		}
		for i := w * c.perTip; i < end; i++ {
			now := c.smooth[i] - tip
			switch {
			case before >= level && now < level:
				start = c.scan.at(float64(i-1) + (before-level)/(before-now))
			case before < level && now >= level && !math.IsNaN(start):
				end := c.scan.at(float64(i-1) + (level-before)/(now-before))
				all = append(all, stretch{start: start, end: end, cut: cut && len(all) == 0})
				start = math.NaN()
			}
			before = now
		}
	}
	if !math.IsNaN(start) {
		all = append(all, stretch{start: start, end: c.scan.at(float64(len(c.smooth))), open: true})
	}
	return all
}

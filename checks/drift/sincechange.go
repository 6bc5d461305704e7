package drift

import (
	"math"

	"gonum.org/v1/gonum/stat/distuv"
)

// leastSince is how many points after a change make a line of their own, and
// brokenAt how sure it must be that one line does not do for both parts.
const (
	leastSince = 6
	brokenAt   = 0.999
)

// trendPoints are the points that a trend is told from, at most most of them: those
// since the change that the first alarm points at, where one line does not do for
// what was before and what came after, else all. since is NaN for all.
func (s *series) trendPoints(most int) (t, v []float64, since float64) {
	t, v, _ = s.batches.Means(most)
	since, raised := s.changeAt()
	if !raised {
		return t, v, math.NaN()
	}
	// The batch that the change fell into is of neither part.
	before, _, _ := s.batches.meansBefore(since, most)
	from := min(len(before)+1, len(t))
	if len(t)-from < leastSince || !broken(t, v, from) {
		return t, v, math.NaN()
	}
	return t[from:], v[from:], since
}

// changeAt is when the change began, by the chart that alarmed first.
func (s *series) changeAt() (since float64, raised bool) {
	first := math.Inf(1)
	for _, a := range s.chart.alarms {
		if a.raised && a.at < first {
			first, since, raised = a.at, a.since, true
		}
	}
	return since, raised
}

// broken tells whether two lines, parted at an index, fit so much better than one
// that it is no chance (Chow, Econometrica 28, 1960; from memory), allowing for
// residuals that resemble their neighbours.
func broken(t, v []float64, at int) bool {
	one, err := FitLine(t, v)
	if err != nil {
		return false
	}
	squares, residuals, lines := 0.0, []float64(nil), 0
	for _, part := range [][2]int{{0, at}, {at, len(t)}} {
		x, y := t[part[0]:part[1]], v[part[0]:part[1]]
		line, err := FitLine(x, y)
		if err != nil {
			continue // so few before the change tell nothing
		}
		squares += line.SSResidual
		residuals = append(residuals, line.residuals(x, y)...)
		lines++
	}
	if lines < 2 {
		return false
	}
	by := inflation(residualLag1(residuals))
	freedom := float64(len(t))/by - 4
	if freedom <= 0 {
		return false
	}
	f := (one.SSResidual - squares) / 2 / (squares / freedom)
	return math.IsInf(f, 1) || (distuv.F{D1: 2, D2: freedom}).CDF(f) > brokenAt
}

package checks

import (
	"math"
	"slices"
)

// Candidate is what a trial found with one part value fitted: a figure for each
// target, in their order.
type Candidate struct {
	Label   string
	Figures []TrialFigure
}

// TrialFigure is a figure with one standard uncertainty. Value is NaN where it
// was not measured; U is 0 where nobody gave one.
type TrialFigure struct{ Value, U float64 }

// Ranking is how the candidates of a trial stand. Candidates are named by their
// index. A group holds those that cannot be told from the best among them: they
// differ by no more than the expanded uncertainty of the difference. That is not
// transitive, so groups are made from the best down, each from what is left.
type Ranking struct {
	// ByTarget has the ranking by each target alone, in their order.
	ByTarget []TargetRanking
	// Order is the ranking by all of them: the first target decides, the next one
	// between those that the first cannot tell apart, and so on.
	Order [][]int
}

// TargetRanking is the ranking by one target.
type TargetRanking struct {
	Target Target
	Groups [][]int
	// NotMeasured are the candidates without a figure; they come after all others.
	NotMeasured []int
	// Keeps tells, for a bound, which candidates keep to it (a figure on the bound
	// does); nil for the other aims.
	Keeps []bool
}

// Rank ranks candidates by targets. It is a pure function of both.
//
// The figures are taken as independent: u of a difference is the root sum of
// squares, and what shows as different differs by more than CoverageFactor times
// that (JCGM 100:2008, 5.1.2 and 6.2). Candidates of one trial are read by the
// same instrument, so that their common error cancels; to leave that out makes
// the uncertainty too large, never too small (5.2.2 with a correlation of 0).
func Rank(targets []Target, candidates []Candidate) Ranking {
	r := Ranking{ByTarget: make([]TargetRanking, len(targets))}
	all := make([]int, len(candidates))
	for i := range all {
		all[i] = i
	}
	for k, target := range targets {
		r.ByTarget[k] = rankBy(target, k, candidates, all)
	}
	for left := all; len(left) > 0; {
		best := left
		for k, target := range targets {
			if len(best) > 1 {
				best = bestOf(target, k, candidates, best)
			}
		}
		r.Order = append(r.Order, best)
		left = without(left, best)
	}
	return r
}

// rankBy ranks by the target of index k alone.
func rankBy(target Target, k int, candidates []Candidate, all []int) TargetRanking {
	r := TargetRanking{Target: target}
	left := slices.Clone(all)
	for _, i := range all {
		value := candidates[i].Figures[k].Value
		if math.IsNaN(value) {
			r.NotMeasured = append(r.NotMeasured, i)
		}
		if target.Aim == AtMost || target.Aim == AtLeast {
			r.Keeps = append(r.Keeps, target.badness(value) == 0)
		}
	}
	left = without(left, r.NotMeasured)
	for len(left) > 0 {
		group := bestOf(target, k, candidates, left)
		r.Groups = append(r.Groups, group)
		left = without(left, group)
	}
	return r
}

// bestOf returns those of some candidates that cannot be told from the best, the
// better first; all of them if none has a figure.
func bestOf(target Target, k int, candidates []Candidate, of []int) []int {
	sorted := slices.DeleteFunc(slices.Clone(of), func(i int) bool { return math.IsNaN(candidates[i].Figures[k].Value) })
	if len(sorted) == 0 {
		return of
	}
	bad := func(i int) float64 { return target.badness(candidates[i].Figures[k].Value) }
	slices.SortStableFunc(sorted, func(i, j int) int {
		switch {
		case bad(i) < bad(j):
			return -1
		case bad(i) > bad(j):
			return 1
		default:
			return 0
		}
	})
	best := sorted[0]
	return slices.DeleteFunc(sorted, func(i int) bool {
		return bad(i)-bad(best) > CoverageFactor*rootSumSquares(given0(candidates[i].Figures[k].U), target.doubt(candidates[best].Figures[k]))
	})
}

// doubt is the standard uncertainty of the best figure's badness: none where it
// keeps to a bound by more than its expanded uncertainty.
func (t Target) doubt(f TrialFigure) float64 {
	u := given0(f.U)
	margin := math.Inf(-1)
	switch t.Aim {
	case AtMost:
		margin = t.Bound - f.Value
	case AtLeast:
		margin = f.Value - t.Bound
	}
	if margin > CoverageFactor*u {
		return 0
	}
	return u
}

// given0 is an uncertainty, 0 where nobody gave one.
func given0(u float64) float64 {
	if given(u) {
		return u
	}
	return 0
}

// without returns all less some, in the order of all.
func without(all, some []int) []int {
	return slices.DeleteFunc(slices.Clone(all), func(i int) bool { return slices.Contains(some, i) })
}

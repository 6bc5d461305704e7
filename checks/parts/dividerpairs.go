package parts

import (
	"cmp"
	"math"
	"slices"
)

// DividerTarget asks for a pair of preferred resistors that divide by a ratio.
type DividerTarget struct {
	// Ratio is output over input with the load on, above 0 and below 1.
	Ratio float64
	// LoadOhm is +Inf where nothing is connected.
	LoadOhm float64
	InputV  float64
	// TotalLowOhm and TotalHighOhm bound the sum of both resistors.
	TotalLowOhm, TotalHighOhm float64
	Series                    Series
	// Most is how many pairs are wanted, the best first.
	Most int
}

// Validate says what cannot be calculated with, all of it at once.
func (t DividerTarget) Validate() error {
	var m mistakes
	m.add(t.Ratio > 0 && t.Ratio < 1, "ratio", t.Ratio, "above 0 and below 1")
	m.aboveOrOpen("load_ohm", t.LoadOhm)
	m.finite("input_v", t.InputV)
	m.above0("total_low_ohm", t.TotalLowOhm)
	m.above0("total_high_ohm", t.TotalHighOhm)
	m.add(!(t.TotalHighOhm < t.TotalLowOhm), "total_high_ohm", t.TotalHighOhm, "at least total_low_ohm")
	m.add(!(t.TotalHighOhm > 1e6*t.TotalLowOhm), "total_high_ohm", t.TotalHighOhm, "at most a million times total_low_ohm")
	m.known("series", t.Series)
	m.add(t.Most > 0, "most", float64(t.Most), "above 0")
	return m.err()
}

// Pairs returns at most Most pairs of preferred values, ordered by how near they
// come to the ratio, and by the smaller total where two are equally near (to
// 1e-9). It is empty where no pair lies between the totals.
func (t DividerTarget) Pairs() ([]DividerResult, error) {
	if err := t.Validate(); err != nil {
		return nil, err
	}
	var pairs []Divider
	for _, bottom := range t.Series.Between(t.TotalLowOhm*t.Ratio/100, t.TotalHighOhm) {
		b := parallel(bottom, t.LoadOhm)
		below, above := t.Series.Neighbours(b * (1 - t.Ratio) / t.Ratio)
		for _, top := range slices.Compact([]float64{below, above}) {
			if sum := top + bottom; sum >= t.TotalLowOhm && sum <= t.TotalHighOhm {
				pairs = append(pairs, Divider{top, bottom, t.LoadOhm, t.InputV})
			}
		}
	}
	slices.SortStableFunc(pairs, func(a, b Divider) int {
		return cmp.Or(
			cmp.Compare(t.miss(a), t.miss(b)),
			cmp.Compare(a.TopOhm+a.BottomOhm, b.TopOhm+b.BottomOhm),
		)
	})
	var results []DividerResult
	for _, pair := range pairs[:min(t.Most, len(pairs))] {
		result, err := pair.Calculate()
		if err != nil {
			return nil, err
		}
		results = append(results, result)
	}
	return results, nil
}

// miss is how far a pair is from the ratio, in steps of 1e-9 of it so that equal
// pairs of other decades tie.
func (t DividerTarget) miss(d Divider) float64 {
	return math.Round(math.Abs(d.ratio()/t.Ratio-1) * 1e9)
}

package checks

import (
	"errors"
	"math"
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"

	"soakline/device"
)

// Groups and orders of three or four candidates, worked out by hand from the
// rule: different is what differs by more than 2 sqrt(u1² + u2²).
func TestRank(t *testing.T) {
	nan := math.NaN()
	overshoot := Target{Criterion: Criterion{Measure: device.Overshoot, Aim: AtMost, Bound: 0.03}}
	atLeast := Target{Criterion: Criterion{Measure: device.Bandwidth, Aim: AtLeast, Bound: 4e6}}
	level := Target{Criterion: Criterion{Measure: device.LumaPeakToPeak, Aim: NearestNominal}, Nominal: 1}
	most := Target{Criterion: Criterion{Measure: device.Bandwidth, Aim: Most}}
	least := Target{Criterion: Criterion{Measure: device.Noise, Aim: Least}}
	type column struct {
		target  Target
		figures []TrialFigure
	}
	rows := []struct {
		name    string
		columns []column
		groups  [][]int // of the first column
		missing []int
		order   [][]int
		source  string
	}{
		{"least", []column{{least, []TrialFigure{{3e-3, 1e-5}, {1e-3, 1e-5}, {2e-3, 1e-5}}}},
			[][]int{{1}, {2}, {0}}, nil, [][]int{{1}, {2}, {0}}, "JCGM 100:2008 6.2, k = 2"},
		{"most", []column{{most, []TrialFigure{{5e6, 1e4}, {6e6, 1e4}}}}, [][]int{{1}, {0}}, nil, [][]int{{1}, {0}}, "by hand"},
		{"just apart", []column{{least, []TrialFigure{{0, 3}, {10.001, 4}}}}, [][]int{{0}, {1}}, nil, [][]int{{0}, {1}},
			"JCGM 100:2008 5.1.2: U = 2 sqrt(3² + 4²) = 10"},
		{"exactly U apart is not told apart", []column{{least, []TrialFigure{{0, 3}, {10, 4}}}}, [][]int{{0, 1}}, nil, [][]int{{0, 1}},
			"JCGM 100:2008 5.1.2: U = 2 sqrt(3² + 4²) = 10"},
		{"not transitive: groups from the best down", []column{{least, []TrialFigure{{0, 1}, {2, 1}, {4, 1}}}},
			[][]int{{0, 1}, {2}}, nil, [][]int{{0, 1}, {2}}, "by hand: U = 2.83"},
		{"nearest from either side", []column{{level, []TrialFigure{{0.90, 1e-3}, {1.04, 1e-3}, {0.98, 1e-3}}}},
			[][]int{{2}, {1}, {0}}, nil, [][]int{{2}, {1}, {0}}, "by hand: 0.10, 0.04, 0.02"},
		{"all that keep to a bound are equal, then the next criterion decides",
			[]column{{overshoot, []TrialFigure{{0.01, 1e-3}, {0.02, 1e-3}, {0.08, 1e-3}}},
				{level, []TrialFigure{{0.95, 1e-3}, {1.00, 1e-3}, {1.00, 1e-3}}}},
			[][]int{{0, 1}, {2}}, nil, [][]int{{1}, {0}, {2}}, "by hand"},
		{"beyond a bound by less than U is not told from keeping to it",
			[]column{{overshoot, []TrialFigure{{0.01, 1e-3}, {0.031, 1e-3}}}}, [][]int{{0, 1}}, nil, [][]int{{0, 1}}, "by hand: 0.001 < 0.002"},
		{"beyond a bound by more than U", []column{{overshoot, []TrialFigure{{0.01, 1e-3}, {0.0321, 1e-3}}}},
			[][]int{{0}, {1}}, nil, [][]int{{0}, {1}}, "by hand: 0.0021 > 0.002"},
		{"none keeps to the bound: the nearest is best", []column{{atLeast, []TrialFigure{{2e6, 1e4}, {3e6, 1e4}}}},
			[][]int{{1}, {0}}, nil, [][]int{{1}, {0}}, "by hand"},
		{"not measured comes last and is never a tie", []column{{least, []TrialFigure{{nan, nan}, {5e-3, 1e-5}}}},
			[][]int{{1}}, []int{0}, [][]int{{1}, {0}}, "no data is never a pass"},
		{"nobody measured: the next criterion decides", []column{{least, []TrialFigure{{nan, nan}, {nan, nan}}},
			{most, []TrialFigure{{1, 0.1}, {2, 0.1}}}}, nil, []int{0, 1}, [][]int{{1}, {0}}, "by hand"},
		{"no uncertainty given: equal is equal", []column{{least, []TrialFigure{{1, 0}, {1, 0}, {1.1, 0}}}},
			[][]int{{0, 1}, {2}}, nil, [][]int{{0, 1}, {2}}, "by hand"},
		{"one candidate", []column{{least, []TrialFigure{{1, 0}}}}, [][]int{{0}}, nil, [][]int{{0}}, "by hand"},
		{"no criteria: nothing tells them apart", nil, nil, nil, [][]int{{0, 1}}, "by hand"},
	}
	for _, row := range rows {
		t.Run(row.name, func(t *testing.T) {
			candidates := make([]Candidate, 2)
			var targets []Target
			for _, c := range row.columns {
				targets = append(targets, c.target)
				candidates = append(candidates[:0:0], make([]Candidate, len(c.figures))...)
			}
			for i := range candidates {
				for _, c := range row.columns {
					candidates[i].Figures = append(candidates[i].Figures, c.figures[i])
				}
			}
			got := Rank(targets, candidates)
			if diff := cmp.Diff(row.order, got.Order); diff != "" {
				t.Errorf("order (%s):\n%s", row.source, diff)
			}
			if len(targets) == 0 {
				return
			}
			if diff := cmp.Diff(row.groups, got.ByTarget[0].Groups); diff != "" {
				t.Errorf("groups (%s):\n%s", row.source, diff)
			}
			if diff := cmp.Diff(row.missing, got.ByTarget[0].NotMeasured); diff != "" {
				t.Errorf("not measured (%s):\n%s", row.source, diff)
			}
		})
	}
	if got := Rank(nil, nil); len(got.Order) != 0 {
		t.Errorf("nobody was ranked as %v", got.Order)
	}
}

func TestKeepsIsTrueOnTheBound(t *testing.T) {
	target := Target{Criterion: Criterion{Measure: device.Overshoot, Aim: AtMost, Bound: 0.03}}
	var candidates []Candidate
	for _, value := range []float64{0.03, math.Nextafter(0.03, 1), math.NaN()} {
		candidates = append(candidates, Candidate{Figures: []TrialFigure{{Value: value}}})
	}
	got := Rank([]Target{target}, candidates).ByTarget[0].Keeps
	if diff := cmp.Diff([]bool{true, false, false}, got); diff != "" {
		t.Error(diff)
	}
}

func trialSheet(criteria ...Criterion) Sheet {
	limit := Limit{Low: 0.9, High: 1.1, Nominal: 1, Guard: GuardBand{Rule: Simple}}
	open := Limit{Low: math.Inf(-1), High: 1, Nominal: math.NaN(), Guard: GuardBand{Rule: Simple}}
	return Sheet{Name: "s", Console: "c", Soak: SoakPlan{Duration: 1e9}, Trial: criteria,
		TestPoints: []TestPoint{
			{Name: "composite", Checks: []Check{{Measure: device.LumaPeakToPeak, Limit: limit, FreshFor: 1e9}, {Measure: device.Overshoot, Limit: open, FreshFor: 1e9}}},
			{Name: "rail", Checks: []Check{{Measure: device.DCVoltage, Limit: limit, FreshFor: 1e9}}},
			{Name: "reservoir", Checks: []Check{{Measure: device.DCVoltage, Limit: open, FreshFor: 1e9}}},
		}}
}

func TestCriteriaFindTheirTestPoint(t *testing.T) {
	sheet := trialSheet(
		Criterion{Measure: device.LumaPeakToPeak, Aim: NearestNominal},
		Criterion{Measure: device.Bandwidth, Aim: Most},
		Criterion{TestPoint: "rail", Measure: device.DCVoltage, Aim: NearestNominal})
	if err := sheet.Validate(); err != nil {
		t.Fatal(err)
	}
	var got []string
	for _, target := range sheet.TrialCriteria() {
		got = append(got, target.Key().String()+": "+target.String())
	}
	want := []string{"composite luma-peak-to-peak: luma-peak-to-peak nearest nominal (1 V)", "composite bandwidth: most bandwidth",
		"rail dc-voltage: dc-voltage nearest nominal (1 V)"}
	if diff := cmp.Diff(want, got); diff != "" {
		t.Error(diff)
	}
}

func TestValidateTellsWhatIsWrongWithACriterion(t *testing.T) {
	rows := []struct {
		criterion  Criterion
		path, says string
	}{
		{Criterion{Measure: "loudness", Aim: Most}, "trial[0].measure", "unknown measure"},
		{Criterion{Measure: device.DCVoltage, Aim: Most}, "trial[0].measure", "checked at 2 test points"},
		{Criterion{Measure: device.Frequency, Aim: Most}, "trial[0].measure", "no test point gives frequency"},
		{Criterion{TestPoint: "nowhere", Measure: device.Noise, Aim: Least}, "trial[0].test_point", `no test point "nowhere"`},
		{Criterion{Measure: device.Overshoot, Aim: NearestNominal}, "trial[0].nearest_nominal", "no nominal figure"},
		{Criterion{Measure: device.Overshoot, Aim: AtMost, Bound: math.NaN()}, "trial[0].measure", "no bound"},
		{Criterion{Measure: device.Overshoot, Aim: AtLeast, Bound: math.Inf(1)}, "trial[0].measure", "no bound"},
		{Criterion{Measure: device.Overshoot, Aim: "prettiest"}, "trial[0].measure", "unknown aim"},
		{Criterion{Measure: device.Overshoot}, "trial[0].measure", "unknown aim"},
	}
	for _, row := range rows {
		err := trialSheet(row.criterion).Validate()
		at, ok := errors.AsType[*PathError](err)
		if !ok || at.Path != row.path || !strings.Contains(err.Error(), row.says) {
			t.Errorf("%+v: %v, want %s: … %s", row.criterion, err, row.path, row.says)
		}
	}
}

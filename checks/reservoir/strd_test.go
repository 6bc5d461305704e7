package reservoir

import (
	"fmt"
	"math"
	"testing"

	"gonum.org/v1/gonum/mat"
)

// strdSet is one data set of the NIST Statistical Reference Datasets, nonlinear
// regression.
type strdSet struct {
	Name, CSV      string
	Start1, Start2 []float64
	Expected       struct {
		B   []float64 `json:"b"`
		BSD []float64 `json:"b_sd"`
		RSS float64
		SD  float64 `json:"residual_sd"`
	}
	RelTol struct {
		B, RSS float64
		BSD    float64 `json:"b_sd"`
		SD     float64 `json:"residual_sd"`
	} `json:"rel_tol"`
}

// strdModels gives value and slopes at x.
var strdModels = map[string]func(x float64, b, slope []float64) float64{
	"Misra1a": charging, "BoxBOD": charging,
	"Misra1b": func(x float64, b, s []float64) float64 {
		q := 1 + b[1]*x/2
		s[0], s[1] = 1-1/(q*q), b[0]*x/(q*q*q)
		return b[0] * s[0]
	},
	"DanWood": func(x float64, b, s []float64) float64 {
		s[0] = math.Pow(x, b[1])
		s[1] = b[0] * s[0] * math.Log(x)
		return b[0] * s[0]
	},
	"Chwirut2": func(x float64, b, s []float64) float64 {
		e, q := math.Exp(-b[0]*x), b[1]+b[2]*x
		s[0], s[1], s[2] = -x*e/q, -e/(q*q), -x*e/(q*q)
		return e / q
	},
	"MGH17": func(x float64, b, s []float64) float64 {
		s[0], s[1], s[2] = 1, math.Exp(-x*b[3]), math.Exp(-x*b[4])
		s[3], s[4] = -x*b[1]*s[1], -x*b[2]*s[2]
		return b[0] + b[1]*s[1] + b[2]*s[2]
	},
	"Lanczos3": func(x float64, b, s []float64) (y float64) {
		for k := 0; k < 6; k += 2 {
			s[k] = math.Exp(-b[k+1] * x)
			s[k+1] = -x * b[k] * s[k]
			y += b[k] * s[k]
		}
		return y
	},
}

func charging(x float64, b, s []float64) float64 {
	e := math.Exp(-b[1] * x)
	s[0], s[1] = 1-e, b[0]*x*e
	return b[0] * (1 - e)
}

// strdProblem poses a data set to the solver.
func strdProblem(x, y []float64, params int, model func(x float64, b, slope []float64) float64) problem {
	scratch := make([]float64, params)
	return problem{
		points: len(x), params: params, freedom: len(x) - params, scale: sumOfSquares(y),
		residuals: func(p, r []float64) {
			for i := range x {
				r[i] = y[i] - model(x[i], p, scratch)
			}
		},
		slopes: func(p []float64, j *mat.Dense) {
			for i := range x {
				model(x[i], p, scratch)
				j.SetRow(i, scratch)
			}
		},
	}
}

// From both published starts, to the tolerances of the file: six digits and more.
func TestStRDNonlinear(t *testing.T) {
	for _, set := range strdSets(t) {
		cells := columns(t, set.CSV)
		for i, start := range [][]float64{set.Start1, set.Start2} {
			t.Run(fmt.Sprintf("NIST StRD %s from start %d", set.Name, i+1), func(t *testing.T) {
				q := strdProblem(cells[0], cells[1], len(start), strdModels[set.Name])
				s, err := q.solveFromLadder(start)
				if err != nil {
					t.Fatal(err)
				}
				if set.Name == "Lanczos3" {
					byRate(s)
				}
				for k, want := range set.Expected.B {
					near(t, fmt.Sprintf("b%d", k+1), s.p[k], want, set.RelTol.B)
					near(t, fmt.Sprintf("sd of b%d", k+1), s.u(k), set.Expected.BSD[k], set.RelTol.BSD)
				}
				near(t, "residual sum of squares", s.squares, set.Expected.RSS, set.RelTol.RSS)
				near(t, "residual sd", math.Sqrt(s.variance()), set.Expected.SD, set.RelTol.SD)
			})
		}
	}
}

// byRate brings the three decays of Lanczos3, which may change places, into order.
func byRate(s solution) {
	for range 2 {
		for k := 1; k < 5; k += 2 {
			if s.p[k] <= s.p[k+2] {
				continue
			}
			for _, i := range []int{k - 1, k} {
				s.p[i], s.p[i+2] = s.p[i+2], s.p[i]
				a, b := s.covariance.At(i, i), s.covariance.At(i+2, i+2)
				s.covariance.SetSym(i, i, b)
				s.covariance.SetSym(i+2, i+2, a)
			}
		}
	}
}

// The same with slopes by central differences, which the circuit's fit uses.
func TestStRDByDifferences(t *testing.T) {
	for _, set := range strdSets(t) {
		if set.Name != "Misra1a" && set.Name != "Chwirut2" {
			continue
		}
		cells := columns(t, set.CSV)
		q := strdProblem(cells[0], cells[1], len(set.Start2), strdModels[set.Name])
		q.slopes = nil
		s, err := q.solve(set.Start2)
		if err != nil {
			t.Fatal(err)
		}
		for k, want := range set.Expected.B {
			near(t, set.Name, s.p[k], want, 1e-4)
		}
	}
}

func strdSets(t *testing.T) []strdSet {
	t.Helper()
	sets := expected[struct{ Datasets []strdSet }](t, "strd_nonlinear.json").Datasets
	if len(sets) != 7 {
		t.Fatalf("%d sets", len(sets))
	}
	return sets
}

// Without the ladder the far start of BoxBOD ends on the level 172.5, where the
// exponential has died: the test shows what the ladder is for.
func TestBoxBODDefeatsOneStart(t *testing.T) {
	cells := columns(t, "strd_boxbod.csv")
	s, err := strdProblem(cells[0], cells[1], 2, charging).solve([]float64{1, 1})
	if err == nil && math.Abs(s.p[0]-213.80940889) < 1 {
		t.Error("one start reached the certified values: the ladder is not needed any more")
	}
}

func TestRCChargeFit(t *testing.T) {
	want := expected[struct {
		RC struct {
			Rounded struct{ B1, B2, RSS, B1SD, B2SD float64 } `json:"expected_rounded"`
		} `json:"rc_charge"`
	}](t, "constructed.json").RC.Rounded
	cells := columns(t, "constructed_rc_charge.csv")
	s, err := strdProblem(cells[0], cells[2], 2, charging).solve([]float64{4, 1})
	if err != nil {
		t.Fatal(err)
	}
	near(t, "b1", s.p[0], want.B1, 1e-8)
	near(t, "b2", s.p[1], want.B2, 1e-7)
	near(t, "rss", s.squares, want.RSS, 1e-6)
}

func TestSolveRefuses(t *testing.T) {
	x := []float64{1, 2}
	if _, err := strdProblem(x, x, 2, charging).solve([]float64{1, 1}); err == nil {
		t.Error("two points can't tell two figures and their uncertainty")
	}
	flat := []float64{0, 0, 0, 0}
	if _, err := strdProblem(flat, flat, 2, charging).solve([]float64{1, 1}); err == nil {
		t.Error("points that say nothing were fitted")
	}
}

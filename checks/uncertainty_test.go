package checks_test

import (
	"encoding/csv"
	"encoding/json"
	"math"
	"os"
	"strconv"
	"testing"

	"gonum.org/v1/gonum/integrate/quad"
	"gonum.org/v1/gonum/stat/distuv"

	"soakline/checks"
	"soakline/device"
)

type example struct {
	ID, Source, Status string
	Inputs             map[string]any
	Expected           map[string]float64
	Derived            map[string]float64
}

// examples reads a file of worked examples.
func examples(t *testing.T, file string) map[string]example {
	t.Helper()
	text, err := os.ReadFile(file)
	if err != nil {
		t.Fatal(err)
	}
	var all struct{ Examples []example }
	if err := json.Unmarshal(text, &all); err != nil {
		t.Fatal(err)
	}
	byID := make(map[string]example)
	for _, e := range all.Examples {
		byID[e.ID] = e
	}
	return byID
}

func (e example) in(key string, missing float64) float64 {
	if v, ok := e.Inputs[key].(float64); ok {
		return v
	}
	return missing
}

func near(t *testing.T, what string, got, want, tolerance float64) {
	t.Helper()
	if !(math.Abs(got-want) <= tolerance) {
		t.Errorf("%s: got %.12g, want %.12g within %g", what, got, want, tolerance)
	}
}

func TestDivisors(t *testing.T) {
	for _, row := range []struct {
		source    string
		got       checks.Uncertainty
		want, deg float64
	}{
		{"T-01, JCGM 100:2008, 4.2.3", checks.TypeA(2, 10), 0.632455532, 9},
		{"T-02, 4.3.7 rectangular", checks.Rectangular(4.506), 2.601540313, math.Inf(1)},
		{"T-02, 4.3.9 triangular", checks.Triangular(1), 0.408248290, math.Inf(1)},
		{"T-02, U-shaped (from memory)", checks.UShaped(1), 0.707106781, math.Inf(1)},
		{"T-02, stated", checks.Stated(0.3, 2), 0.15, math.Inf(1)},
		{"T-02, F.2.2.1 resolution", checks.Resolution(1), 0.288675135, math.Inf(1)},
		{"5.1.3, sensitivity", checks.TypeA(2, 10).Times(-3), 1.897366596, 9},
	} {
		near(t, row.source, row.got.Standard, row.want, 1e-9)
		if row.got.Degrees != row.deg {
			t.Errorf("%s: %g degrees of freedom, want %g", row.source, row.got.Degrees, row.deg)
		}
	}
	if one := checks.TypeA(0, 1); !math.IsNaN(one.Standard) {
		t.Errorf("one reading tells no spread, got %g", one.Standard)
	}
	if none := checks.Combine(); none.Standard != 0 || !math.IsInf(none.Degrees, 1) {
		t.Errorf("nothing combined: %+v", none)
	}
}

// The worked meter example: 10 readings, s 2 mV, ±(0.05 % + 2 counts of 1 mV)
// (arithmetic derived, clauses T-01 to T-05).
func TestWorkedMeter(t *testing.T) {
	clause := device.Accuracy{PercentOfReading: 0.05, PercentOfRange: 0.01, Range: 20}
	fromClause := checks.FromAccuracy(clause, 5.012, 0.001)
	near(t, "clause and resolution", fromClause*1e3, math.Hypot(2.601540, 0.288675), 1e-6)
	total := checks.Combine(checks.TypeA(0.002, 10), checks.Rectangular(0.004506), checks.Resolution(0.001))
	near(t, "u in mV (T-03)", total.Standard*1e3, 2.692832, 1e-6)
	near(t, "U in mV (T-04)", total.Expanded()*1e3, 5.385664, 1e-6)
	near(t, "effective degrees of freedom (T-05)", total.Degrees, 2958, 1)
	near(t, "k for 95.45 % (T-04)", checks.Rectangular(1).Coverage(0.9545), 2, 1e-4)
}

func TestFromAccuracy(t *testing.T) {
	for _, row := range []struct {
		name              string
		clause            device.Accuracy
		value, resolution float64
		want              float64
	}{
		{"no clause is no uncertainty", device.Accuracy{}, 5, 0.001, 0},
		{"a negative reading counts the same", device.Accuracy{PercentOfReading: 1}, -5, 0, 0.05 / math.Sqrt(3)},
		{"the clause's resolution goes first", device.Accuracy{Resolution: 0.1}, 5, 0.001, 0.1 / math.Sqrt(12)},
		{"range alone", device.Accuracy{PercentOfRange: 0.1, Range: 20}, 0, 0, 0.02 / math.Sqrt(3)},
	} {
		near(t, row.name, checks.FromAccuracy(row.clause, row.value, row.resolution), row.want, 1e-15)
	}
}

func TestEndGauge(t *testing.T) {
	e := examples(t, "testdata/uncertainty.json")["gum_h1"]
	ls := e.in("ls_nm", 0)
	total := checks.Combine(
		checks.Uncertainty{Standard: e.in("u_ls_nm", 0), Degrees: e.in("nu_ls", 0)},
		checks.Uncertainty{Standard: e.in("u_d_nm", 0), Degrees: e.in("nu_d", 0)},
		checks.Uncertainty{Standard: e.in("u_dalpha", 0), Degrees: e.in("nu_dalpha", 0)}.Times(ls*e.in("theta", 0)),
		checks.Uncertainty{Standard: e.in("u_dtheta", 0), Degrees: e.in("nu_dtheta", 0)}.Times(ls*e.in("alpha", 0)),
	)
	near(t, e.Source+" u in nm", total.Standard, e.Expected["u_nm"], 0.5)
	near(t, e.Source+" degrees of freedom", math.Floor(total.Degrees), e.Expected["nu_eff"], 0)
	k := total.Coverage(0.99)
	near(t, e.Source+" k for 99 %", k, e.Expected["k_99"], 0.005)
	near(t, e.Source+" U in nm", k*total.Standard, e.Expected["U99_nm"], 1)
	if few := (checks.Uncertainty{Standard: 1, Degrees: 0.7}).Coverage(0.95); !math.IsNaN(few) {
		t.Errorf("less than one degree of freedom gave k %g", few)
	}
}

func TestConformanceProbability(t *testing.T) {
	all := examples(t, "testdata/conformity.json")
	for _, id := range []string{"upper_limit", "lower_limit", "two_sided"} {
		e := all[id]
		limit := simple(e.in("TL", math.Inf(-1)), e.in("TU", math.Inf(1)))
		got := checks.ConformanceProbability(limit, e.in("y", 0), e.in("u", 0))
		near(t, e.Source+" as printed", got, e.Expected["pc"], 0.005)
		near(t, e.Source+" derived", got, e.Derived["pc"], 1e-12)
	}
	near(t, "bench case", checks.ConformanceProbability(simple(4.75, 5.25), 5.20, 0.02), 0.993790, 5e-7)
	near(t, "u 0, on the limit", checks.ConformanceProbability(simple(4.75, 5.25), 5.25, 0), 1, 0)
	near(t, "u 0, outside", checks.ConformanceProbability(simple(4.75, 5.25), 5.26, 0), 0, 0)
	for _, u := range []float64{math.NaN(), -1} {
		if got := checks.ConformanceProbability(simple(0, 1), 0.5, u); !math.IsNaN(got) {
			t.Errorf("u %g gave %g", u, got)
		}
	}
}

// A figure on the acceptance limit conforms with the chance that ILAC-G8's table
// of guard bands says; T-13.
func TestGuardBandTable(t *testing.T) {
	for _, id := range []string{"guard_simple", "guard_w_0.83U", "guard_w_1.0U", "guard_w_1.5U", "guard_w_3.0U"} {
		e := examples(t, "testdata/conformity.json")[id]
		limit := band(math.Inf(-1), 10, e.in("w_over_U", 0))
		const u = 0.25
		_, on, err := limit.AcceptanceInterval(u)
		if err != nil {
			t.Fatal(err)
		}
		risk := 1 - checks.ConformanceProbability(limit, on, u)
		near(t, e.Source, risk, e.Derived["false_accept_at_AL"], 1e-12)
		if bound := e.Expected["max_false_accept_stated"]; risk > bound {
			t.Errorf("%s: %s: risk %g above the %g stated", e.Source, id, risk, bound)
		}
	}
	e := examples(t, "testdata/conformity.json")["acceptance_limit"]
	_, high, err := band(math.Inf(-1), e.in("TU", 0), e.in("r", 0)).AcceptanceInterval(e.in("U", 0) / 2)
	if err != nil {
		t.Fatal(err)
	}
	near(t, e.Source, high, e.Expected["AL"], 1e-12)
}

// falseAccept integrates, over items outside limit as density says, the chance of
// being read inside accept.
func falseAccept(density func(float64) float64, from, to float64, accept checks.Limit, u float64) float64 {
	return quad.Fixed(func(x float64) float64 {
		return density(x) * checks.ConformanceProbability(accept, x, u)
	}, from, to, 2000, nil, 0)
}

// Chances over a whole production, integrated from the conformance probability.
func TestGlobalRisk(t *testing.T) {
	file, err := os.Open("testdata/false_accept_tur4.csv")
	if err != nil {
		t.Fatal(err)
	}
	defer file.Close()
	rows, err := csv.NewReader(file).ReadAll()
	if err != nil {
		t.Fatal(err)
	}
	for _, row := range rows[1:] {
		p, _ := strconv.ParseFloat(row[0], 64)
		want, _ := strconv.ParseFloat(row[1], 64)
		prior := distuv.Normal{Mu: 0, Sigma: 1 / distuv.UnitNormal.Quantile((1+p)/2)}
		u := prior.Sigma / 4 // the table's ratio is that of the spreads
		got := 200 * falseAccept(prior.Prob, 1, 1+10*u, simple(-1, 1), u)
		near(t, "draft practice, ratio 4:1, in tolerance "+row[0], got, want, 2e-6)
	}
	e := examples(t, "testdata/conformity.json")["global_risk_gamma_prior"]
	gamma := distuv.Gamma{Alpha: 4, Beta: 4}
	noGuard := falseAccept(gamma.Prob, 2, 5, simple(math.Inf(-1), 2), 0.25)
	near(t, e.Source+" simple", noGuard, e.Expected["consumer_risk_no_guard"], 1e-6)
	guarded := falseAccept(gamma.Prob, 2, 5, simple(math.Inf(-1), e.Expected["acceptance_limit_for_risk_0_001"]), 0.25)
	near(t, e.Source+" guarded", guarded, 0.001, 1e-7)
}

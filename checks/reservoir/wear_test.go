package reservoir

import (
	"math"
	"math/rand/v2"
	"strings"
	"testing"
	"time"

	"soakline/checks/drift"
)

const week = 7 * 24 * time.Hour

func worn(t *testing.T, history []Health, o WearOptions) Wear {
	t.Helper()
	w, err := AnalyseWear(history, o)
	if err != nil {
		t.Fatal(err)
	}
	return w
}

// The constructed 52 weeks with a known drift; expected slopes from two other
// programs (testdata/README.md).
func TestConstructedCapacitorDrift(t *testing.T) {
	type course struct {
		MannKendall struct {
			P        float64
			SenSlope float64 `json:"sen_slope"`
		} `json:"mann_kendall"`
		OLS struct{ Slope, Intercept float64 }
	}
	want := expected[struct {
		Drift struct {
			C   course `json:"c_uF"`
			ESR course `json:"esr_mohm"`
		} `json:"cap_drift"`
	}](t, "constructed.json").Drift
	cells := columns(t, "constructed_cap_drift.csv")
	var history []Health
	for i := range cells[0] {
		h := Unmeasured(noon.Add(time.Duration(cells[0][i]) * week))
		h.CapacitanceFarads, h.ESROhms = cells[1][i]*1e-6, cells[2][i]*1e-3
		history = append(history, h)
	}
	w := worn(t, history, LearnTemperature(WearLimits{LowFarads: 376e-6, HighESROhms: 0.24, Source: "IEC 60384-4 cl. 4.13, as quoted (W-60)"}))
	weekly := week.Seconds() / month
	near(t, "capacitance, least squares", w.Capacitance.PerMonth*weekly, want.C.OLS.Slope*1e-6, 1e-9)
	near(t, "capacitance, Theil-Sen", w.Capacitance.TheilSenPerMonth*weekly, want.C.MannKendall.SenSlope*1e-6, 1e-9)
	near(t, "capacitance, Mann-Kendall", w.Capacitance.MannKendallP, want.C.MannKendall.P, 1e-6)
	near(t, "ESR, least squares", w.ESR.PerMonth*weekly, want.ESR.OLS.Slope*1e-3, 1e-9)
	near(t, "ESR, Theil-Sen", w.ESR.TheilSenPerMonth*weekly, want.ESR.MannKendall.SenSlope*1e-3, 1e-9)
	meets := (376 - want.C.OLS.Intercept) / want.C.OLS.Slope
	near(t, "weeks to -20 %", w.Capacitance.ReachedAt.Sub(noon).Hours()/week.Hours(), meets, 1e-6)
	if !w.Capacitance.Earliest.Before(w.Capacitance.ReachedAt) || !w.Capacitance.ReachedAt.Before(w.Capacitance.Latter) {
		t.Errorf("interval: %v %v %v", w.Capacitance.Earliest, w.Capacitance.ReachedAt, w.Capacitance.Latter)
	}
	if !has(w.Findings, codeWearing) || w.Capacitance.Outlook != drift.Ahead || w.Leakage.N != 0 {
		t.Errorf("%+v", w)
	}
	if !strings.Contains(w.Findings[0].Text, "IEC 60384-4") {
		t.Errorf("the limit's source is not told: %s", w.Findings[0].Text)
	}
}

// monthly makes a history of one measurement a month.
func monthly(n int, make func(month int) Health) []Health {
	var all []Health
	for i := range n {
		h := make(i)
		h.At = noon.Add(time.Duration(float64(i) * month * float64(time.Second)))
		all = append(all, h)
	}
	return all
}

// Without wear at most one history in ten of those of constant parts shows a trend.
func TestNoTrend(t *testing.T) {
	trends := 0
	for seed := range uint64(300) {
		random := rand.New(rand.NewPCG(seed, 8))
		w := worn(t, monthly(12, func(int) Health {
			h := Unmeasured(noon)
			h.CapacitanceFarads = 2200e-6 * (1 + 0.01*random.NormFloat64())
			return h
		}), LearnTemperature(WearLimits{LowFarads: 1760e-6, Source: "test"}))
		if w.Capacitance.Outlook == drift.Ahead {
			trends++
		} else if w.Capacitance.Outlook == drift.NoTrend && !has(w.Findings, codeNoTrend) {
			t.Error("not said that there is no trend")
		}
	}
	if trends > 30 {
		t.Errorf("%d of 300 constant parts wear", trends)
	}
}

// A part that is measured in summer and in winter does not wear by it: ESR falls 2 %
// a degree here, and both a given and a learnt coefficient take it out.
func TestTemperatureIsTakenOut(t *testing.T) {
	random := rand.New(rand.NewPCG(1, 8))
	season := func(month int) Health {
		h := Unmeasured(noon)
		h.Celsius = 25 + 10*math.Sin(float64(month))
		h.ESROhms = 0.1 * math.Exp(0.01*float64(month)) * math.Exp(-0.02*(h.Celsius-25)) * (1 + 0.005*random.NormFloat64())
		return h
	}
	for name, perDegree := range map[string]float64{"given": -0.02, "learnt": math.NaN()} {
		o := LearnTemperature(WearLimits{HighESROhms: 0.2, Source: "test"})
		o.ESRPerCelsius = perDegree
		w := worn(t, monthly(24, season), o)
		near(t, name, w.ESR.PerCelsius, -0.02, 0.05)
		near(t, name+", first", w.ESR.First, 0.1, 0.02)
		near(t, name+", latest", w.ESR.Latest, 0.1*math.Exp(0.23), 0.02)
		near(t, name+", months to twice", w.ESR.ReachedAt.Sub(noon).Seconds()/month, 85, 0.1)
	}
	as := WearOptions{Limits: WearLimits{HighESROhms: 0.2, Source: "test"}}
	if w := worn(t, monthly(24, season), as); w.ESR.Outlook == drift.Ahead && w.ESR.PerMonthHigh-w.ESR.PerMonthLow < 0.001 {
		t.Errorf("without normalising the trend is as sure: %+v", w.ESR)
	}
	mixed := monthly(24, season)
	mixed[3].Celsius = math.NaN()
	if w := worn(t, mixed, LearnTemperature(WearLimits{})); !has(w.Findings, codeNoTemps) {
		t.Error("not said that a temperature is missing")
	}
}

func TestWornOut(t *testing.T) {
	capacitance := func(farads float64) []Health {
		h := Unmeasured(noon)
		h.CapacitanceFarads = farads
		return []Health{h}
	}
	o := LearnTemperature(LimitsFromFirst(capacitance(2200e-6)[0]))
	if w := worn(t, capacitance(1760e-6), o); !has(w.Findings, codeWorn) {
		t.Error("exactly on the limit is at the limit")
	}
	if w := worn(t, capacitance(1761e-6), o); has(w.Findings, codeWorn) || !has(w.Findings, codeTooFewSoaks) {
		t.Errorf("%+v", w.Findings)
	}
}

func TestHistoriesWithGaps(t *testing.T) {
	if w := worn(t, nil, LearnTemperature(WearLimits{})); len(w.Findings) != 0 || w.Capacitance.N != 0 || !math.IsNaN(w.Capacitance.Latest) {
		t.Errorf("nothing: %+v", w)
	}
	bad := monthly(6, func(i int) Health {
		h := Unmeasured(noon)
		h.CapacitanceFarads = []float64{1, 0, -1, math.Inf(1), math.NaN(), 1}[i]
		return h
	})
	if w := worn(t, bad, LearnTemperature(WearLimits{})); w.Capacitance.N != 2 || !has(w.Findings, codeNotComparing) {
		t.Errorf("%+v", w)
	}
	one := monthly(6, func(int) Health { h := Unmeasured(noon); h.CapacitanceFarads = 1; return h })
	for i := range one {
		one[i].At = noon
	}
	if w := worn(t, one, LearnTemperature(WearLimits{})); w.Capacitance.Outlook != drift.NotKnown || !math.IsNaN(w.Capacitance.PerMonth) {
		t.Errorf("all at one time: %+v", w.Capacitance)
	}
	for _, o := range []WearOptions{{Confidence: 1}, {Limits: WearLimits{LowFarads: 1}}, {Limits: WearLimits{HighESROhms: -1, Source: "x"}}, {ReferenceCelsius: math.NaN()}} {
		if _, err := AnalyseWear(nil, o); err == nil {
			t.Errorf("%+v was accepted", o)
		}
	}
}

// W-81: examples of the ten-degree rule (derived; the first also read on makers'
// pages).
func TestW81UsefulLife(t *testing.T) {
	for _, row := range []struct{ hours, at, used, want float64 }{{2000, 105, 65, 32000}, {5000, 105, 85, 20000}, {1000, 85, 45, 16000}} {
		near(t, "W-81", UsefulLifeHours(row.hours, row.at, row.used), row.want, 1e-12)
	}
}

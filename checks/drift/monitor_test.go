package drift

import (
	"encoding/json"
	"errors"
	"math"
	"math/rand/v2"
	"reflect"
	"strings"
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"
	"github.com/google/go-cmp/cmp/cmpopts"
)

var soakBegin = time.Date(2031, 4, 5, 22, 0, 0, 0, time.UTC)

func newMonitor(t testing.TB, o Options) *Monitor {
	t.Helper()
	m, err := NewMonitor(o)
	if err != nil {
		t.Fatal(err)
	}
	return m
}

func TestMonitorRefusesAndCounts(t *testing.T) {
	tests := []struct {
		name  string
		after time.Duration
		value float64
		want  Event
	}{
		{"no number comes first", -time.Hour, math.NaN(), RefusedReading},
		{"first", 0, 5, 0},
		{"no number", time.Second, math.NaN(), RefusedReading},
		{"overflow", time.Second, math.Inf(1), RefusedReading},
		{"overflow downwards", time.Second, math.Inf(-1), RefusedReading},
		{"beyond any instrument", time.Second, 2e100, RefusedReading},
		{"next", 2 * time.Second, 7, 0},
		{"back in time", 2*time.Second - time.Microsecond, 7, RefusedReading},
		{"of the same time", 2 * time.Second, 9, 0},
	}
	m := newMonitor(t, Options{})
	for _, test := range tests {
		if got := m.Observe(soakBegin.Add(test.after), test.value); got != test.want {
			t.Errorf("%s: event %d, want %d", test.name, got, test.want)
		}
	}
	if want := (Refused{NotFinite: 5, Backward: 1}); m.Refused() != want {
		t.Errorf("refused %+v, want %+v", m.Refused(), want)
	}
	if r := m.Result(); r.N != 3 || r.Mean != 7 || r.SD != 2 || r.Refused != m.Refused() {
		t.Errorf("n %d mean %v sd %v, want 3, 7, 2", r.N, r.Mean, r.SD)
	}
}

func TestWarmUpIsLeftOut(t *testing.T) {
	m := newMonitor(t, Options{WarmUp: 10 * time.Minute})
	for i := range 30 {
		at := soakBegin.Add(time.Duration(i) * time.Minute)
		value := 5.0
		if i < 10 {
			value = 5 + math.Exp(-float64(i)) // warms up, and down, for 10 min
		}
		m.Observe(at, value)
	}
	r := m.Result()
	if r.N != 20 || r.Mean != 5 || r.SD != 0 || r.Refused.WarmUp != 10 {
		t.Errorf("n %d mean %v sd %v, %d left out; want 20 of exactly 5, 10", r.N, r.Mean, r.SD, r.Refused.WarmUp)
	}
}

// TestAlarmTimes: the level steps up at 3 h; the alarm carries the time of one of the
// readings after it, and the estimate of the change is near it.
func TestAlarmTimes(t *testing.T) {
	m := newMonitor(t, soakOptions())
	random := rand.New(rand.NewPCG(1, 2))
	step := soakBegin.Add(3 * time.Hour)
	var raised []time.Time
	for i := range 6 * 360 {
		at := soakBegin.Add(time.Duration(i) * 10 * time.Second)
		value := random.NormFloat64()
		if !at.Before(step) {
			value += 2
		}
		event := m.Observe(at, value)
		if learnt := event&LearntBaseline != 0; learnt != (i == 360) {
			t.Fatalf("reading %d: baseline learnt %v; want it after one hour", i, learnt)
		}
		if event&(RaisedEWMA|RaisedCUSUM) != 0 {
			raised = append(raised, at)
		}
	}
	alarms := m.Alarms()
	if len(alarms) == 3 && alarms[2].Kind == TrendAlarm {
		alarms = alarms[:2] // a step tilts the line through all as well, later
	}
	if len(alarms) != 2 || alarms[0].Kind != EWMAAlarm || alarms[1].Kind != CUSUMAlarm {
		t.Fatalf("alarms %+v, want one of each chart", alarms)
	}
	for _, a := range alarms {
		if a.At.Before(step) || a.At.After(step.Add(time.Hour)) {
			t.Errorf("%v alarm at %v, the step was at %v", a.Kind, a.At, step)
		}
		if wrong := a.Since.Sub(step).Abs(); wrong > 10*time.Minute {
			t.Errorf("%v: change estimated %v from the truth", a.Kind, wrong)
		}
		if a.By <= 0 || a.By > 3 {
			t.Errorf("%v: level %v off, the step was 2", a.Kind, a.By)
		}
	}
	// Each alarm is told once, at a reading's own time.
	for _, at := range raised {
		if !at.Equal(alarms[0].At) && !at.Equal(alarms[1].At) {
			t.Errorf("event at %v, alarms at %v and %v", at, alarms[0].At, alarms[1].At)
		}
	}
}

// TestMonitorAndAnalyseAgree: the same record, live and saved.
func TestMonitorAndAnalyseAgree(t *testing.T) {
	v := make([]float64, 3000)
	noise{"", 0.5, 0}.readings(v, rand.New(rand.NewPCG(8, 8)))
	o := soakOptions()
	o.Baseline = time.Hour
	m := newMonitor(t, o)
	seconds := make([]float64, len(v))
	for i := range v {
		v[i] += 0.0015 * float64(i)
		seconds[i] = 10 * float64(i)
		m.Observe(soakBegin.Add(time.Duration(i)*10*time.Second), v[i])
	}
	saved, err := Analyse(seconds, v, o)
	if err != nil {
		t.Fatal(err)
	}
	live := m.Result()
	if diff := cmp.Diff(live, saved, cmpopts.EquateNaNs(), cmp.AllowUnexported(Baseline{})); diff != "" {
		t.Errorf("live and saved differ:\n%s", diff)
	}
	slope, forecast, since, err := m.Trend()
	if err != nil || slope.PerSecond*hour != live.SlopePerHour || forecast.Seconds/hour != live.HoursToLimit || !since.IsZero() {
		t.Errorf("trend %+v, %+v since %v, %v; want that of the result", slope, forecast, since, err)
	}
	if _, none, _, err := newMonitor(t, o).Trend(); !errors.Is(err, ErrTooFew) || none.Outlook != NotKnown {
		t.Errorf("trend of nothing: %v, %v", none.Outlook, err)
	}
	if saved.Outlook != Ahead || math.IsNaN(saved.CUSUMAlarmAt) || math.IsNaN(saved.EWMAAlarmAt) {
		t.Errorf("a drift of 0.54 per hour: %+v", saved)
	}
}

// TestMemoryStaysConstant: a reading a second for 30 days; nothing grows, and the
// whole of a series is 9 KiB.
func TestMemoryStaysConstant(t *testing.T) {
	if size := reflect.TypeFor[Monitor]().Size(); size > 9*1024 {
		t.Errorf("a monitor has %d bytes, want 9 KiB at most", size)
	}
	m := newMonitor(t, soakOptions())
	random := rand.New(rand.NewPCG(6, 6))
	second := 0
	month := testing.AllocsPerRun(1, func() { // runs twice: 30 days in all
		for range 15 * 86400 {
			m.Observe(soakBegin.Add(time.Duration(second)*time.Second), random.NormFloat64())
			second++
		}
	})
	if second != 30*86400 {
		t.Fatalf("%d readings, want 30 days", second)
	}
	// The baseline is learnt in the run that is not counted; a chart that is beyond
	// its limit may look at the record once more now and then.
	if month > 100 {
		t.Errorf("%v allocations in 15 days of readings", month)
	}
	if r := m.Result(); r.N != second {
		t.Errorf("n = %d, want %d", r.N, second)
	}
}

// Digits of an instrument that hardly flicker must not make a chart that alarms at the
// first flicker.
func TestCoarseDigitsDoNotAlarm(t *testing.T) {
	for _, level := range []float64{5, 5.0004, 5.00049} { // steps of 1 mV
		found := 0
		for soak := range 100 {
			random := rand.New(rand.NewPCG(uint64(soak), 11))
			s := newSeries(Options{})
			for i := range 24 * 360 {
				x := math.Round((level+0.0002*random.NormFloat64())*1000) / 1000
				if s.add(10*float64(i), x)&(RaisedEWMA|RaisedCUSUM) != 0 {
					found++
					break
				}
			}
		}
		if found > 1 {
			t.Errorf("level %v: %d of 100 soaks alarm", level, found)
		}
	}
}

func TestAConstantLevelThatSteps(t *testing.T) {
	var seconds, v []float64
	for i := range 4000 {
		seconds = append(seconds, float64(i))
		v = append(v, 5)
		if i >= 3000 {
			v[i] = 5.05
		}
	}
	r, err := Analyse(seconds, v, Options{})
	if err != nil {
		t.Fatal(err)
	}
	within(t, "CUSUM alarm", r.CUSUMAlarmAt, 3000, 120)
	within(t, "change", r.ChangeAt, 3000, 30)
}

// A quiet rail that drifts from its first reading teaches a baseline that drifts too.
func TestAQuietDriftFromTheFirstReading(t *testing.T) {
	random := rand.New(rand.NewPCG(2, 9))
	s := newSeries(soakOptions())
	for i := range 4 * 360 {
		if s.add(10*float64(i), 0.5*float64(i)/360+0.001*random.NormFloat64())&RaisedCUSUM != 0 {
			return
		}
	}
	t.Error("not found in 4 h")
}

func TestResultJSON(t *testing.T) {
	empty, err := Analyse(nil, nil, Options{})
	if err != nil {
		t.Fatal(err)
	}
	const none = `{"n":0,"mean":null,"sd":null,"slope_per_hour":null,"slope_low":null,"slope_high":null,` +
		`"theil_sen_per_hour":null,"mann_kendall_p":null,"hours_to_limit":null,"hours_to_limit_low":null,` +
		`"hours_to_limit_high":null,"ewma_alarm_at":null,"cusum_alarm_at":null,"trend_alarm_at":null}`
	if got := asJSON(t, empty); got != none {
		t.Errorf("empty record\n got %s\nwant %s", got, none)
	}
	line, err := Analyse([]float64{0, 900, 1800, 2700, 3600}, []float64{0, 1, 2, 3, 4}, Options{HighLimit: pointer(6)})
	if err != nil {
		t.Fatal(err)
	}
	const exact = `{"n":5,"mean":2,"sd":1.5811388300841898,"slope_per_hour":4,"slope_low":4,"slope_high":4,` +
		`"theil_sen_per_hour":4,"mann_kendall_p":0.016666666666666666,"hours_to_limit":0.5,"hours_to_limit_low":0.5,` +
		`"hours_to_limit_high":0.5,"ewma_alarm_at":null,"cusum_alarm_at":null,"trend_alarm_at":null}`
	if got := asJSON(t, line); got != exact {
		t.Errorf("exact line\n got %s\nwant %s", got, exact)
	}
}

func asJSON(t *testing.T, r Result) string {
	t.Helper()
	text, err := json.Marshal(r)
	if err != nil {
		t.Fatal(err)
	}
	return string(text)
}

func TestOptionsTellEveryMistake(t *testing.T) {
	nan := math.NaN()
	bad := Options{
		LowLimit: pointer(6), HighLimit: pointer(5), WarmUp: -1, Baseline: -1, SmallestShift: -1,
		Lambda: 1.5, Width: -1, Slack: nan, Threshold: math.Inf(1), Confidence: 1,
		Reference: &Reference{Target: nan, Sigma: 0, Autocorrelation: 1},
	}
	_, err := NewMonitor(bad)
	if err == nil {
		t.Fatal("no error")
	}
	for _, want := range []string{
		"low limit 6 must be below high limit 5", "warm-up", "baseline", "smallest shift", "lambda", "width",
		"slack", "threshold", "confidence", "target", "sigma", "autocorrelation",
	} {
		if !strings.Contains(err.Error(), want) {
			t.Errorf("nothing about %q in %q", want, err)
		}
	}
	for _, limits := range []Options{{LowLimit: pointer(nan)}, {HighLimit: pointer(math.Inf(1))}, {LowLimit: pointer(1), HighLimit: pointer(1)}} {
		if _, err := Analyse(nil, nil, limits); err == nil {
			t.Errorf("%+v: no error", limits)
		}
	}
	if _, err := Analyse([]float64{1}, nil, Options{}); err == nil {
		t.Error("other lengths: no error")
	}
}

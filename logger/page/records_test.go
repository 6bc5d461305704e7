package page_test

import (
	"math"
	"net/http"
	"net/url"
	"testing"

	"soakline/logger/page"
)

// TestRecordOfARound: what is drawn of a record has every peak of it, and levels
// near those of the standard that the simulated console keeps to.
func TestRecordOfARound(t *testing.T) {
	t.Parallel()
	l := startSimulated(t)
	l.awaitUp(t)
	l.takeRound(t, "as received")
	var records []page.RecordView
	path := "/api/v1/units/B8-0147/records/composite"
	if status := l.ask(t, path+"?rows=500&round="+url.QueryEscape("as received"), &records); status != http.StatusOK || len(records) != 1 {
		t.Fatalf("%d, %d records", status, len(records))
	}
	r := records[0]
	if r.Round != "as received" || r.Samples != 50000 || len(r.LowV) != 500 || len(r.HighV) != 500 || math.Abs(r.IntervalS-2e-6) > 1e-12 {
		t.Fatalf("%q: %d samples in %d rows of %g s", r.Round, r.Samples, len(r.LowV), r.IntervalS)
	}
	kept, err := l.Book().Round(t.Context(), "B8-0147", "as received")
	if err != nil {
		t.Fatal(err)
	}
	captures, err := l.Book().RoundCaptures(t.Context(), kept.ID)
	if err != nil {
		t.Fatal(err)
	}
	raw, err := l.Book().Capture(t.Context(), captures[len(captures)-1].ID)
	if err != nil {
		t.Fatal(err)
	}
	for i := range r.LowV {
		low, high := math.Inf(1), math.Inf(-1)
		for _, v := range raw.Volts[i*100 : (i+1)*100] {
			low, high = min(low, v), max(high, v)
		}
		if math.Abs(r.LowV[i]-low) > 1e-9 || math.Abs(r.HighV[i]-high) > 1e-9 {
			t.Fatalf("row %d is %g to %g, its samples are %g to %g", i, r.LowV[i], r.HighV[i], low, high)
		}
	}
	// 625 lines 25 Hz: sync 0.3 V below blanking and a line of 64 us (ITU-R BT.1700).
	figures := map[string]float64{}
	for _, f := range r.Figures {
		if f.Value != nil {
			figures[f.Measure] = *f.Value
		}
	}
	if math.Abs(figures["sync"]-0.3) > 0.02 || math.Abs(figures["line-period"]-64e-6) > 0.2e-6 {
		t.Errorf("%v", figures)
	}
	if r.Line == nil || r.Line.Lines < 2 || r.Line.BeginS >= 0 || len(r.Line.V) < 500 {
		t.Errorf("line %+v", r.Line)
	}
}

func TestRecordsThatAreNot(t *testing.T) {
	t.Parallel()
	l := startLive(t, oldSoak)
	rows := []struct {
		query string
		want  int
	}{
		{"", 404}, {"?round=never", 404}, {"?soak=1", 404}, {"?soak=99", 404}, {"?soak=one", 422}, {"?trial=7", 404}, {"?trial=x", 422},
		{"?rows=15", 422}, {"?rows=8001", 422}, {"?rows=1e3", 422},
	}
	for _, row := range rows {
		var problem page.Problem
		if status := l.ask(t, "/api/v1/units/B8-0147/records/rail-5v"+row.query, &problem); status != row.want || problem.Error == "" {
			t.Errorf("%s: %d %q", row.query, status, problem.Error)
		}
	}
}

// takeRound takes a whole round of the unit.
func (l *live) takeRound(t testing.TB, label string) {
	t.Helper()
	path := "/api/v1/units/B8-0147/rounds"
	steps := []struct{ path, body string }{{path, `{"label":"` + label + `"}`}}
	for _, point := range []string{"rail-5v", "composite"} {
		steps = append(steps, struct{ path, body string }{path + "/" + url.PathEscape(label) + "/points/" + point, "{}"})
	}
	for _, step := range append(steps, struct{ path, body string }{path + "/" + url.PathEscape(label) + "/end", "{}"}) {
		if status, text := l.send(t, "POST", step.path, step.body); status >= 300 {
			t.Fatalf("%s: %d %s", step.path, status, text)
		}
	}
}

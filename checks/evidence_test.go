package checks_test

import (
	"slices"
	"testing"
	"time"

	"soakline/checks"
)

// The expectations of this file are counted by hand from the rule that evidence
// documents: constructed, no source.

func TestEvidenceOnTheEdge(t *testing.T) {
	for _, row := range []struct {
		name    string
		seconds []float64
		end     float64
		want    float64
	}{
		{"exactly fresh_for apart", []float64{0, 2, 4}, 4, 1},
		{"a microsecond more", []float64{0, 2.000001, 4}, 4, 1.999999 / 4},
		{"first one fresh_for after the begin", []float64{2, 4}, 4, 1},
		{"first one later than that", []float64{2.000001, 4}, 4, 1.999999 / 4},
		{"last one fresh_for before the end", []float64{0, 2}, 4, 1},
		{"last one earlier than that", []float64{0, 1.999999}, 4, 1.999999 / 4},
		{"never read, though the soak is shorter than fresh_for", nil, 1, 0},
		{"one alone covers a short soak", []float64{0.5}, 1, 1},
		{"one alone in a long soak", []float64{5}, 10, 0},
		{"two at one moment", []float64{0, 1, 1, 2}, 2, 1},
	} {
		w := checks.NewWatch(railCheck(), rail, begin)
		for _, s := range row.seconds {
			w.Observe(volts(s, 5))
		}
		near(t, row.name, w.Evidence(at(row.end)), row.want, 1e-12)
	}
}

// What was read one second apart from 0 to 10 s, with losses told at once or late: the order that is asked for is not the only
// one that counts right.
func TestLosses(t *testing.T) {
	type loss struct{ from, to float64 }
	all := []float64{0, 1, 2, 3, 4, 5, 6, 7, 8, 9, 10}
	for _, row := range []struct {
		name    string
		seconds []float64
		losses  []loss
		want    float64
	}{
		{"one", all, []loss{{3.5, 5.5}}, 0.8},
		{"in a gap nothing is taken twice", []float64{0, 1, 2, 3, 8, 9, 10}, []loss{{4, 6}}, 0.5},
		{"half in a gap", []float64{0, 1, 2, 3, 8, 9, 10}, []loss{{7, 9}}, 0.4},
		{"overlapping", all, []loss{{2, 4}, {3, 5}}, 0.7},
		{"one in the other", all, []loss{{2, 6}, {3, 4}}, 0.6},
		{"the same twice", all, []loss{{2, 3}, {2, 3}}, 0.9},
		{"apart, the later first", all, []loss{{7, 8}, {2, 3}}, 0.8},
		{"without a length", all, []loss{{5, 5}, {6, 5}}, 1},
		{"from before the begin", all, []loss{{-5, 1}}, 0.9},
		{"beyond the end", all, []loss{{9.5, 20}}, 0.95},
		{"everything", all, []loss{{-1, 20}}, 0},
	} {
		for _, told := range []string{"at its begin", "at its end", "late"} {
			w := checks.NewWatch(railCheck(), rail, begin)
			left := row.losses
			tell := func(until float64) {
				for len(left) > 0 && (left[0].to <= until || told == "at its begin" && left[0].from <= until) {
					w.Lost(at(left[0].from), at(left[0].to), 1, "queue full")
					left = left[1:]
				}
			}
			for _, s := range row.seconds {
				if told != "late" {
					tell(s)
				}
				w.Observe(volts(s, 5))
			}
			tell(1e6)
			near(t, row.name+", told "+told, w.Evidence(at(10)), row.want, 1e-12)
		}
	}
}

func TestLossAtOneTestPoint(t *testing.T) {
	sheet := benchSheet()
	sheet.TestPoints[1].Checks[0].Against = checks.Reference{}
	sheet.TestPoints[1].Checks[0].Limit = railCheck().Limit
	var readings []checks.Tagged
	for _, tagged := range every(100, steady) {
		readings = append(readings, tagged, checks.Tagged{TestPoint: "rail-5v-far", Reading: tagged.Reading})
	}
	v := checks.Judge(sheet, checks.SoakRecord{
		Begin: begin, End: at(100), Readings: slices.Values(readings),
		Losses: []checks.Loss{{TestPoint: "rail-5v-far", From: at(1), To: at(3), Readings: 7, Cause: "queue full"}},
	})
	if v.Outcome != checks.Pass || v.Evidence != 0.98 || v.Checks[0].Evidence != 1 || v.Checks[0].Lost != 0 || v.Checks[1].Lost != 7 {
		t.Errorf("%s, %g: %+v", v.Outcome, v.Evidence, v.Checks)
	}
	if g := v.Checks[1].Gaps; len(g) != 1 || g[0].Cause != "queue full" || !g[0].From.Equal(at(1)) || g[0].Length() != 2*time.Second {
		t.Errorf("got %+v", g)
	}
}

// A reference that comes back only after its freshness was over leaves a gap,
// though the readings themselves are close together.
func TestReferenceThatWasStale(t *testing.T) {
	check := railCheck()
	check.Limit = band(-0.5, 0.5, 1)
	check.Against = checks.Reference{TestPoint: "ground"}
	w := checks.NewWatch(check, rail, begin)
	w.ObserveReference(volts(0, 5))
	w.Observe(volts(1, 5))
	w.ObserveReference(volts(2.8, 5)) // the first one was fresh until 2
	w.Observe(volts(2.9, 5))
	near(t, "evidence", w.Evidence(at(2.9)), 1/2.9, 1e-12)
	w.ObserveReference(volts(4.8, 5)) // just in time
	w.Observe(volts(4.9, 5))
	near(t, "evidence", w.Evidence(at(4.9)), 3/4.9, 1e-12)
}

func TestProgress(t *testing.T) {
	j := checks.NewJudgement(oneRail(), "B8-0147", begin, 0)
	for _, row := range []struct{ now, want float64 }{{-5, 0}, {0, 0}, {25, 0.25}, {100, 1}, {500, 1}} {
		near(t, "progress", j.Progress(at(row.now)), row.want, 1e-12)
	}
	if !j.PlannedEnd().Equal(at(100)) {
		t.Errorf("planned end %s", j.PlannedEnd())
	}
	j.Observe("rail-5v", volts(40, 9))
	if v := j.End(at(30)); !v.End.Equal(at(40)) {
		t.Errorf("a reading that was observed is taken back: the end is %s", v.End)
	}
	if states := j.States(); len(states) != 1 || states[0] != checks.Outside {
		t.Errorf("got %v", states)
	}
	near(t, "evidence", j.Evidence(at(41)), 1.0/41, 1e-12)
}

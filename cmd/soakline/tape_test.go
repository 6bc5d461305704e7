package main

import (
	"bytes"
	"context"
	"strings"
	"testing"
	"testing/synctest"
	"time"

	"soakline/checks"
	"soakline/logger/page"
)

// viewOf is a soak of an hour, 36 minutes in.
func viewOf() page.BenchView {
	begin := time.Date(2026, 5, 1, 9, 0, 0, 0, time.UTC)
	evidence, share := 0.99996, 0.72
	to := begin.Add(20 * time.Minute)
	return page.BenchView{At: begin.Add(36 * time.Minute), Soaks: []page.SoakView{{Unit: "B8-0147", Place: "left", Begin: begin,
		PlannedEnd: begin.Add(time.Hour), ProgressRatio: 0.6, EvidenceRatio: &evidence, Checks: []page.CheckView{{
			TestPoint: "rail-5v", Measure: "dc-voltage", State: checks.Within, ShareRatio: &share,
			Gaps:       []page.GapView{{From: begin.Add(3 * time.Minute), To: begin.Add(9 * time.Minute)}},
			Excursions: []page.ExcursionView{{From: begin.Add(18 * time.Minute), To: &to}}}}}}}
}

func TestSoakLine(t *testing.T) {
	view := viewOf()
	const want = "B8-0147   [###   ######vv##########----------------]  36 min 00 s of 1 h 00 min   evidence 99.9 %   worst: rail-5v dc-voltage 0.72 of its band"
	if got := soakLine(view.Soaks[0], view.At, plainTape); got != want {
		t.Errorf("it is\n%s\nwant\n%s", got, want)
	}
}

// TestFollow: a line now and then until the verdict; on a terminal none is longer
// than it is wide, as one that wraps could not be drawn over.
func TestFollow(t *testing.T) {
	for _, terminal := range []bool{false, true} {
		synctest.Test(t, func(t *testing.T) {
			var out bytes.Buffer
			f := newFollower(&out, []string{"B8-0147"})
			f.terminal = terminal
			looks := 0
			err := f.follow(t.Context(), func(context.Context) (page.BenchView, error) {
				view := viewOf()
				if looks++; looks > 50 {
					view.Soaks, view.Finished = nil, []page.VerdictView{{Unit: "B8-0147", Outcome: checks.Pass}}
				}
				return view, nil
			})
			if err != nil || f.verdicts["B8-0147"].Outcome != checks.Pass {
				t.Fatalf("%v, %v", f.verdicts, err)
			}
			for line := range strings.Lines(out.String()) {
				line = strings.TrimSuffix(strings.TrimPrefix(line, "\x1b[1A\x1b[J"), "\n")
				if terminal && (len([]rune(line)) > narrowest || !strings.HasSuffix(line, "…")) {
					t.Errorf("a line of %d characters: %q", len([]rune(line)), line)
				}
			}
			if n := strings.Count(out.String(), "\n"); !terminal && n != 2 {
				t.Errorf("%d lines in 25 s, want 2", n)
			}
		})
	}
}

// TestFollowMissesTheVerdict: the place was taken again before the verdict was seen;
// that must not be waited for for ever.
func TestFollowMissesTheVerdict(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		var out bytes.Buffer
		looks := 0
		err := newFollower(&out, []string{"B8-0147"}).follow(t.Context(), func(context.Context) (page.BenchView, error) {
			view := viewOf()
			if looks++; looks > 3 {
				view.Soaks[0].Unit = "B8-0148"
			}
			return view, nil
		})
		if err == nil || !strings.Contains(err.Error(), "soakline soak list --unit B8-0147") {
			t.Errorf("it ended with %v", err)
		}
	})
}

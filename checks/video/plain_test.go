package video_test

import (
	"fmt"
	"testing"

	"soakline/checks/video"
)

// Records as a simple generator or a very good scope gives them: no noise, no codes,
// edges within a sample, beginning exactly with sync, of any whole number of lines.
func TestIdealRecords(t *testing.T) {
	t.Parallel()
	for _, d := range []standard{std625(), std525()} {
		for _, lines := range []int{1, 2, 3, 8} {
			for _, begin := range []float64{0, 0.02, 2.5, 3, 20, 40, 58, 62} {
				for _, rate := range []float64{14e6, 25e6, 100e6} {
					s := base(d, bars(1, 0.75, d.white-d.setup))
					s.bits, s.lines, s.rate, s.edge = 0, lines, rate, 1e-9
					s.begin = begin * us
					name := fmt.Sprintf("%s, %d lines from %g us at %g MS/s", d.name, lines, begin, rate/1e6)
					r, err := video.Analyse(video.Record{Volts: s.volts(), SampleIntervalSeconds: 1 / rate}, video.Options{Limits: video.WorkshopLimits()})
					if err != nil {
						t.Fatal(err)
					}
					checkIdeal(t, name, s, r)
				}
			}
		}
	}
}

func checkIdeal(t *testing.T, name string, s scene, r video.Result) {
	t.Helper()
	d := s.standard
	inSync := s.begin > 0.3*us && s.begin < 4.7*us
	if s.lines == 1 && inSync {
		// One line that begins and ends within sync shows no whole sync.
		return
	}
	if string(r.System) != d.name {
		t.Errorf("%s: system %q, %d lines, %v", name, r.System, r.LinesFound, codesOf(r))
		return
	}
	near(t, name+": sync", r.SyncVolts, d.sync, 0.01, "V-02")
	near(t, name+": blanking", r.BlankingVolts, 0, 0.005, "V-02")
	if s.lines > 1 {
		near(t, name+": luma", r.LumaPeakToPeakVolts, 1, 0.01, "V-01")
	}
	want := []string{}
	if s.rate < 19e6 {
		want = append(want, "too-few-samples")
	}
	wantCodes(t, r, name, want...)
}

package checks_test

import (
	"fmt"
	"math"
	"runtime"
	"slices"
	"testing"
	"time"

	"pgregory.net/rapid"

	"soakline/checks"
)

// soak is a made-up soak: readings in order, losses in order.
type soak struct {
	sheet    checks.Sheet
	planned  time.Duration
	end      time.Time
	readings []checks.Tagged
	losses   []checks.Loss
	stops    bool // no reading is observed after end, else the end moves
}

// drawSoak makes readings at two test points with odd steps, some far apart, some
// back in time, and losses.
func drawSoak(t *rapid.T) soak {
	s := soak{sheet: benchSheet(), planned: time.Duration(rapid.IntRange(1, 60).Draw(t, "planned s")) * time.Second}
	for i := range s.sheet.TestPoints {
		c := &s.sheet.TestPoints[i].Checks[0]
		c.Hold = time.Duration(rapid.IntRange(0, 3000).Draw(t, "hold ms")) * time.Millisecond
		c.Settle = time.Duration(rapid.IntRange(0, 3000).Draw(t, "settle ms")) * time.Millisecond
		c.Hysteresis = rapid.Float64Range(0, 0.1).Draw(t, "hysteresis")
	}
	if rapid.Bool().Draw(t, "baseline") {
		s.sheet.TestPoints[1].Checks[0].Against = checks.Reference{Baseline: true, BaselineFor: 2 * time.Second}
	}
	s.sheet.Soak.EvidenceAtLeast = rapid.SampledFrom([]float64{0, 0.5, 0.95, 1}).Draw(t, "evidence")
	value := rapid.SampledFrom([]float64{5, 5, 5, 5, 5, 5.1, 5.2, 5.24, 5.3, 4.7, math.NaN()})
	step := rapid.SampledFrom([]float64{0.1, 0.5, 0.7, 1, 1, 2, 2.000001, -0.3, 5})
	if rapid.Bool().Draw(t, "nearly good") { // else hardly any would pass
		s.sheet.TestPoints = s.sheet.TestPoints[:1]
		value, step = rapid.Just(5.0), rapid.SampledFrom([]float64{1, 1, 1, 1.5, 2, 2, 2.000001})
	}
	seconds := 0.0
	for range rapid.IntRange(0, 150).Draw(t, "readings") {
		seconds += step.Draw(t, "step")
		point := s.sheet.TestPoints[rapid.IntRange(0, len(s.sheet.TestPoints)-1).Draw(t, "point")].Name
		s.readings = append(s.readings, checks.Tagged{TestPoint: point, Reading: volts(seconds, value.Draw(t, "value"))})
	}
	s.stops = rapid.Bool().Draw(t, "stops")
	lost := 0.0
	for range rapid.IntRange(0, 3).Draw(t, "losses") {
		from := lost + rapid.Float64Range(0, 20).Draw(t, "lost after")
		lost = from + rapid.Float64Range(0, 5).Draw(t, "lost for")
		s.losses = append(s.losses, checks.Loss{From: at(from), To: at(lost), Readings: 3, Cause: "queue full"})
	}
	s.end = begin.Add(s.planned + time.Duration(rapid.SampledFrom([]int{0, 0, 0, -1000, 5000}).Draw(t, "end ms"))*time.Millisecond)
	return s
}

// live feeds the soak as a bench does, asking and telling the time as it likes.
func (s soak) live(advance func() bool) checks.Verdict {
	j := checks.NewJudgement(s.sheet, "B8-0147", begin, s.planned)
	losses := s.losses
	for _, tagged := range s.readings {
		for len(losses) > 0 && losses[0].To.UnixMicro() <= tagged.Reading.At.UnixMicro() {
			j.Lost(losses[0])
			losses = losses[1:]
		}
		if s.stops && tagged.Reading.At.UnixMicro() > s.end.UnixMicro() {
			continue
		}
		if advance() {
			j.Advance(tagged.Reading.At.Add(700 * time.Millisecond)) // ahead of the reading, as a late queue would be
			j.End(tagged.Reading.At)
			j.Standings()
		}
		j.Observe(tagged.TestPoint, tagged.Reading)
	}
	for _, loss := range losses {
		j.Lost(loss)
	}
	return j.End(s.end)
}

func (s soak) judge(end time.Time) checks.Verdict {
	return checks.Judge(s.sheet, checks.SoakRecord{
		Unit: "B8-0147", Begin: begin, Planned: s.planned, End: end,
		Readings: slices.Values(s.readings), Losses: s.losses,
	})
}

// exact writes a verdict with every bit of every float, NaN included.
func exact(v checks.Verdict) string {
	text := fmt.Sprintf("%#v", v)
	for _, r := range v.Checks {
		text += fmt.Sprintf(" %x", []uint64{
			math.Float64bits(r.Low), math.Float64bits(r.High), math.Float64bits(r.Mean),
			math.Float64bits(r.Evidence), math.Float64bits(r.WorstShare),
		})
	}
	return text
}

func TestLiveIsJudged(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		s := drawSoak(t)
		live := s.live(func() bool { return rapid.Bool().Draw(t, "advance") })
		if quiet := s.live(func() bool { return false }); exact(quiet) != exact(live) {
			t.Fatalf("telling the time changed the verdict:\n%s\n%s", exact(live), exact(quiet))
		}
		if judged := s.judge(live.End); exact(judged) != exact(live) {
			t.Fatalf("judged again it differs:\n%s\n%s", exact(live), exact(judged))
		}
	})
}

// covered counts the evidence of the first check a second time, by looking at
// every millisecond, without losses and without what the watch keeps.
func (s soak) covered() (share float64, any bool) {
	c := s.sheet.TestPoints[0].Checks[0]
	start := c.Settle.Milliseconds()
	end := min(s.planned, s.end.Sub(begin)).Milliseconds()
	latest, last, good := int64(0), start, int64(0)
	for _, tagged := range s.readings {
		ms := tagged.Reading.At.Sub(begin).Round(time.Millisecond).Milliseconds()
		if tagged.TestPoint != "rail-5v" || ms < latest || ms > end || math.IsNaN(tagged.Reading.Value) {
			continue
		}
		if latest = ms; ms < start {
			continue
		}
		if any = true; ms-last <= c.FreshFor.Milliseconds() {
			good += ms - last
		}
		last = ms
	}
	if any && end-last <= c.FreshFor.Milliseconds() {
		good += end - last
	}
	return float64(good) / float64(end-start), any
}

func TestNoPassWithoutEvidence(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		s := drawSoak(t)
		v := s.judge(s.end)
		share, any := s.covered()
		// A whole millisecond a reading is what counting in milliseconds may miss.
		slack := float64(len(s.readings)+1) / 1000
		if got := v.Checks[0].Evidence; any && got > share+slack {
			t.Fatalf("evidence %g, counted %g", got, share)
		}
		if v.Outcome != checks.Pass {
			if len(v.Reasons) == 0 {
				t.Fatalf("%s without a reason", v.Outcome)
			}
			return
		}
		if !any || share+slack < s.sheet.Soak.EvidenceAtLeast || s.end.Before(begin.Add(s.planned)) {
			t.Fatalf("passed with evidence %g of %g, read %v, end %s", share, s.sheet.Soak.EvidenceAtLeast, any, s.end)
		}
		for _, r := range v.Checks {
			if r.OutsideCount+r.BorderlineCount > 0 || r.LongestGap > s.sheet.Soak.LongestGap || r.Readings == 0 || len(v.Reasons) > 0 {
				t.Fatalf("passed with %+v", r)
			}
		}
	})
}

// A loss never adds evidence, wherever it lies.
func TestLossTakesEvidence(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		s := drawSoak(t)
		with := s.judge(s.end)
		losses := s.losses
		s.losses = nil
		without := s.judge(s.end)
		for i := range with.Checks {
			if with.Checks[i].Evidence > without.Checks[i].Evidence {
				t.Fatalf("%v made evidence %g of %g", losses, with.Checks[i].Evidence, without.Checks[i].Evidence)
			}
		}
		if with.Outcome == checks.Pass && without.Outcome != checks.Pass {
			t.Fatalf("%v turned %s into a pass", losses, without.Outcome)
		}
	})
}

// Thirty days at one reading a second, with excursions and gaps: no memory is
// taken once the lists are full.
func TestMonthInConstantMemory(t *testing.T) {
	const day = 24 * 60 * 60
	j := checks.NewJudgement(oneRail(), "B8-0147", begin, 30*24*time.Hour)
	second := 0
	run := func(until int) {
		r := volts(0, 5)
		for ; second < until; second++ {
			r.At, r.Value = begin.Add(time.Duration(second)*time.Second), 5+0.1*math.Sin(float64(second))
			if second%3600 == 1800 {
				r.Value = 5.4
			}
			if second%5000 < 4990 {
				j.Observe("rail-5v", r)
			}
		}
	}
	run(day)
	before := heap()
	run(30 * day)
	if grown := int64(heap()) - int64(before); grown > 4096 {
		t.Errorf("29 days more took %d bytes", grown)
	}
	v := j.End(begin.Add(30 * 24 * time.Hour))
	if r := v.Checks[0]; v.Outcome != checks.Fail || r.OutsideCount < 700 || len(r.Excursions) != 16 || r.Readings != 2592000-5180 {
		t.Errorf("%s, %d outside, %d listed, %d readings", v.Outcome, r.OutsideCount, len(r.Excursions), r.Readings)
	}
	runtime.KeepAlive(j)
}

func heap() uint64 {
	var m runtime.MemStats
	runtime.GC()
	runtime.GC()
	runtime.ReadMemStats(&m)
	return m.HeapAlloc
}

func TestObserveAllocatesNothing(t *testing.T) {
	j := checks.NewJudgement(benchSheet(), "B8-0147", begin, 30*24*time.Hour)
	r := volts(0, 5)
	j.Observe("rail-5v", r)
	j.Observe("rail-5v-far", r)
	allocs := testing.AllocsPerRun(1000, func() {
		r.At = r.At.Add(time.Second)
		j.Observe("rail-5v", r)
		j.Observe("rail-5v-far", r)
		j.Advance(r.At)
	})
	if allocs != 0 {
		t.Errorf("%g allocations a reading", allocs)
	}
}

package device

import (
	"testing"
	"time"
)

// clock is a plan run against a made-up time, in which every question takes cost.
type clock struct {
	plan
	now      time.Time
	cost     time.Duration
	selected string
	asked    map[Want]int
	switched int
	// worst is the longest that a want was asked later than it was due.
	worst map[Want]time.Duration
}

func newClock(cost time.Duration, wants ...Want) *clock {
	c := &clock{now: time.Unix(1_000_000, 0), cost: cost, asked: map[Want]int{}, worst: map[Want]time.Duration{}}
	c.plan = newPlan(wants, 0, plan{}, c.now)
	return c
}

// run asks what is due for a time.
func (c *clock) run(d time.Duration, fails func(Want) Kind) {
	for end := c.now.Add(d); c.now.Before(end); {
		i, until := c.next(c.now, c.selected)
		if until > 0 {
			c.now = c.now.Add(until)
			continue
		}
		a := &c.entries[i]
		c.worst[a.want] = max(c.worst[a.want], c.now.Sub(a.due))
		a.begun(c.now)
		if a.want.Channel != c.selected {
			c.switched++
		}
		c.selected = a.want.Channel
		c.asked[a.want]++
		c.now = c.now.Add(c.cost)
		a.ended(fails(a.want), c.now)
	}
}

// always is a question that always works.
func always(Want) Kind { return "" }

func TestEachWantAtItsInterval(t *testing.T) {
	fast, slow := Want{Channel: "1", Every: 100 * time.Millisecond}, Want{Channel: "2", Every: time.Second}
	c := newClock(5*time.Millisecond, fast, slow)
	c.run(time.Minute, always)
	if c.asked[fast] < 599 || c.asked[fast] > 601 || c.asked[slow] < 59 || c.asked[slow] > 61 {
		t.Errorf("in a minute: %v", c.asked)
	}
	if c.worst[fast] > 20*time.Millisecond || c.worst[slow] > 600*time.Millisecond {
		t.Errorf("later than due: %v", c.worst)
	}
}

// One that is asked as fast as it answers, on the channel that is selected, must
// not keep the others from their turn, and relays move no more often than needed.
func TestNobodyStarves(t *testing.T) {
	greedy := Want{Channel: "1"}
	also := Want{Channel: "2"}
	regular := Want{Channel: "3", Every: 500 * time.Millisecond}
	rare := Want{Channel: "4", Every: 10 * time.Second}
	c := newClock(20*time.Millisecond, greedy, also, regular, rare)
	c.run(time.Minute, always)
	if c.asked[greedy] < 500 || c.asked[also] < 500 {
		t.Errorf("asked as fast as they answer: %v", c.asked)
	}
	if c.asked[regular] < 110 || c.asked[rare] < 6 {
		t.Errorf("asked at intervals: %v", c.asked)
	}
	if c.worst[regular] > 350*time.Millisecond || c.worst[rare] > mostPatience+100*time.Millisecond {
		t.Errorf("later than due: %v", c.worst)
	}
	if asked := c.asked[greedy] + c.asked[also] + c.asked[regular] + c.asked[rare]; c.switched > asked/4 {
		t.Errorf("%d relays moved for %d questions", c.switched, asked)
	}
}

// More is wanted than there is time for: everybody gets a share.
func TestOverload(t *testing.T) {
	var wants []Want
	for _, channel := range []string{"1", "2", "3", "4"} {
		wants = append(wants, Want{Channel: channel, Every: 100 * time.Millisecond})
	}
	c := newClock(100*time.Millisecond, wants...)
	c.run(time.Minute, always)
	for _, want := range wants {
		if c.asked[want] < 140 || c.asked[want] > 160 {
			t.Errorf("%v", c.asked)
		}
	}
}

// A question that is never answered costs its whole timeout; it must not take the
// others' time for ever.
func TestWhatFailsIsPutOff(t *testing.T) {
	good, bad := Want{Channel: "1", Every: 100 * time.Millisecond}, Want{Channel: "2", Every: 100 * time.Millisecond}
	c := newClock(time.Millisecond, good, bad)
	c.run(time.Minute, func(w Want) Kind {
		if w == bad {
			c.now = c.now.Add(2 * time.Second)
			return Silence
		}
		return ""
	})
	if c.asked[bad] < 6 || c.asked[bad] > 14 || c.asked[good] < 350 {
		t.Errorf("one is silent: %v", c.asked)
	}
	c.run(time.Minute, always)
	if c.asked[bad] < 500 {
		t.Errorf("after it answers again: %v", c.asked)
	}
}

func TestWhatCannotWorkIsAskedOnce(t *testing.T) {
	c := newClock(time.Millisecond, Want{Measure: Ripple})
	c.run(time.Hour, func(Want) Kind { return Unsuitable })
	if c.asked[Want{Measure: Ripple}] != 1 {
		t.Errorf("%v", c.asked)
	}
}

// An overflow is an answer: it puts nothing off.
func TestOverflowPutsNothingOff(t *testing.T) {
	want := Want{Every: time.Second}
	c := newClock(time.Millisecond, want)
	c.run(time.Minute, func(Want) Kind { return Overflow })
	if c.asked[want] != 60 {
		t.Errorf("%v", c.asked)
	}
}

// A change of the wants leaves what stays at its time.
func TestChangedWantsKeepTheirTime(t *testing.T) {
	now := time.Unix(1_000_000, 0)
	stays, comes := Want{Channel: "1", Every: time.Minute}, Want{Channel: "2", Every: time.Minute}
	p := newPlan([]Want{stays}, time.Minute, plan{}, now)
	p.entries[0].begun(now)
	fresh := newPlan([]Want{comes, stays}, time.Minute, p, now.Add(time.Second))
	if i, until := fresh.next(now.Add(time.Second), ""); i != 0 || until != 0 {
		t.Errorf("the new want is due after %s", until)
	}
	if got := fresh.entries[1].due.Sub(now); got != time.Minute {
		t.Errorf("what stays is due after %s", got)
	}
	if got := fresh.entries[2]; !got.errorCheck || got.due.Sub(now) != time.Minute {
		t.Errorf("the error queue's turn: %+v", got)
	}
	if i, until := (plan{}).next(now, ""); i != -1 || until < time.Hour {
		t.Errorf("nothing wanted: %d after %s", i, until)
	}
}

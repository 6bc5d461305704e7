package scpi

import (
	"testing"
	"testing/synctest"
	"time"
)

// machine is a machine whose clock can be set and that can sleep.
type machine struct {
	set    time.Duration
	slept  time.Duration
	silent bool // it does not say how long it slept
}

func (m *machine) wall() time.Time { return time.Now().Add(m.set) }

func (m *machine) asleep() (time.Duration, bool) { return m.slept, !m.silent }

func TestClockGoesOnEvenly(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		clock := NewClock()
		begin := clock.Now()
		if !begin.Equal(time.Now()) || begin.UnixMicro() != time.Now().UnixMicro() {
			t.Errorf("it begins at %v, the machine at %v", begin, time.Now())
		}
		time.Sleep(8 * time.Hour)
		if got := clock.Now(); got.Sub(begin) != 8*time.Hour || got.UnixMicro()-begin.UnixMicro() != (8*time.Hour).Microseconds() {
			t.Errorf("8 h later it shows %v later", got.Sub(begin))
		}
		if stray := clock.Strayed(); stray.Ahead.Abs() > time.Millisecond || stray.Slept.Abs() > time.Millisecond {
			t.Errorf("strayed %+v, and nobody touched it", stray)
		}
	})
}

func TestClockShift(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		m := &machine{}
		clock := newClock(m.wall, m.asleep)
		begin := clock.Now()
		m.slept = time.Hour
		if stray := clock.Strayed(); stray.Slept != time.Hour || !stray.SleepKnown {
			t.Errorf("strayed %+v after an hour's sleep", stray)
		}
		clock.Shift(time.Hour)
		if got := clock.Now().UnixMicro() - begin.UnixMicro(); got != time.Hour.Microseconds() {
			t.Errorf("shifted by %d us", got)
		}
		if stray := clock.Strayed(); stray.Slept != 0 || stray.Ahead != -time.Hour {
			t.Errorf("strayed %+v after it was settled", stray)
		}
		clock.Shift(-time.Hour)
		if got := clock.Now(); !got.Equal(begin) {
			t.Errorf("shifted back it shows %v, want %v", got, begin)
		}
		m.silent = true
		if stray := clock.Strayed(); stray.SleepKnown || stray.Slept != 0 {
			t.Errorf("strayed %+v where sleep is not known", stray)
		}
	})
}

// TestClockWhenTheMachineIsSet: the machine's clock is set back by an hour, then
// ahead by a day. What the clock shows goes on; how far it strayed can be asked.
func TestClockWhenTheMachineIsSet(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		m := &machine{}
		clock := newClock(m.wall, m.asleep)
		last := clock.Now()
		for _, set := range []time.Duration{0, -time.Hour, 24 * time.Hour} {
			m.set = set
			time.Sleep(time.Second)
			now := clock.Now()
			if now.UnixMicro()-last.UnixMicro() != 1e6 {
				t.Errorf("set by %v, a second took %d us", set, now.UnixMicro()-last.UnixMicro())
			}
			if stray := clock.Strayed(); stray.Ahead != set {
				t.Errorf("set by %v, strayed %+v", set, stray)
			}
			last = now
		}
		clock.Shift(clock.Strayed().Ahead)
		if stray := clock.Strayed(); stray.Ahead != 0 {
			t.Errorf("put right, it strays %v", stray.Ahead)
		}
	})
}

package logger_test

import (
	"strings"
	"testing"
	"time"

	"soakline/checks"
	"soakline/device/simbench"
	"soakline/logger"
)

// soakedWithout soaks until the end and returns the verdict, where the supply or the
// unit does not do as it is told.
func (c *cycledBench) soakedWithout(t *testing.T, fault ...string) checks.Verdict {
	t.Helper()
	bench, end := c.run(t)
	if _, err := bench.BeginSoak(t.Context(), logger.SoakRequest{Unit: "B8-0147"}); err != nil {
		t.Fatal(err)
	}
	if len(fault) > 0 {
		for output(t, bench) < 1 {
		}
		if err := c.sim.Fault(fault[0], fault[1], fault[2:]...); err != nil {
			t.Fatal(err)
		}
	}
	finished := <-c.verdicts
	end()
	return finished.Verdict
}

// missing is the sentence about power cycles of a verdict that is not a pass for them.
func missing(t *testing.T, v checks.Verdict) string {
	t.Helper()
	if v.Outcome != checks.Undecided {
		t.Errorf("%s because of %+v", v.Outcome, v.Reasons)
	}
	for _, r := range v.Reasons {
		if r.Kind == checks.CyclesMissing {
			return r.Sentence(time.UTC)
		}
	}
	t.Errorf("no word about power cycles in %+v", v.Reasons)
	return ""
}

// A supply that ignores the command says so when it is asked how its output is: no
// pass, whatever the readings were.
func TestAnOutputThatDoesNotFollow(t *testing.T) {
	c := newCycledBench(t, 9*time.Second, 1)
	v := c.soakedWithout(t, "supply", "stuck", "on")
	if said := missing(t, v); said != "0 of 1 power cycles were done; the unit did not follow once" {
		t.Error(said)
	}
	told := c.powerEvents(t)
	for _, want := range []string{"could not be switched off, and is switched no more", `the output did not follow the command: after "OUTPut OFF" it answers "1"`} {
		if !strings.Contains(told, want) {
			t.Errorf("%q is not told of in\n%s", want, told)
		}
	}
}

// A unit that does not hang on the output stays on with it off: its rail says so.
func TestAUnitThatDoesNotFollow(t *testing.T) {
	c := newCycledBench(t, 9*time.Second, 1, func(config *simbench.Config) {
		for _, instrument := range config.Instruments {
			if s := instrument.Supply; s != nil {
				s.Feeds = "CC-0031" // another unit
			}
		}
	})
	v := c.soakedWithout(t)
	if said := missing(t, v); said != "0 of 1 power cycles were done; the unit did not follow once" {
		t.Error(said)
	}
	told := c.powerEvents(t)
	if !strings.Contains(told, "the unit did not go off with the output, and is switched no more: rail-5v dc-voltage still 5.0") {
		t.Errorf("not told of in\n%s", told)
	}
}

package logger_test

import (
	"context"
	"strings"
	"testing"
	"time"

	"soakline/logger"
)

// A supply whose answer says neither on nor off may have switched on: that is trouble,
// so the unit is switched off again, and no more, and the soak goes on without it.
func TestOffOnError(t *testing.T) {
	c := newCycledBench(t, time.Minute, 1)
	for _, instrument := range c.settings.Instruments {
		if output := instrument.Commands.Output; output != nil {
			output.OnIs, output.OffIs = "ON", "OFF" // it answers 1 and 0
		}
	}
	bench, end := c.run(t)
	if _, err := bench.BeginSoak(t.Context(), logger.SoakRequest{Unit: "B8-0147"}); err != nil {
		t.Fatal(err)
	}
	ctx, cancel := context.WithTimeout(t.Context(), time.Minute)
	defer cancel()
	until(ctx, t, "the unit to be on", func() bool { return c.sim.Powered("B8-0147") })
	until(ctx, t, "the unit to be off again", func() bool { return !c.sim.Powered("B8-0147") })
	if snapshot, err := bench.Snapshot(t.Context()); err != nil || len(snapshot.Soaks) != 1 {
		t.Errorf("%d soaks, %v", len(snapshot.Soaks), err)
	}
	end()
	if c.sim.Powered("B8-0147") {
		t.Error("the output is on")
	}
	told := c.powerEvents(t)
	for _, want := range []string{"the unit could not be switched on, and is switched no more", `the answer "1" is neither "ON" nor "OFF"`} {
		if !strings.Contains(told, want) {
			t.Errorf("%q is not told of in\n%s", want, told)
		}
	}
}

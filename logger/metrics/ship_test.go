package metrics

import (
	"testing"
	"time"

	"soakline/logger/ship"
)

// someShipping are two targets, one of them in trouble.
type someShipping struct{}

func (someShipping) Status() []ship.Status {
	return []ship.Status{
		{Target: "store", Lines: 5000, Readings: 4990, Refused: 2},
		{Target: "other", Pending: 17, Oldest: time.Unix(1_000_000, 0), Trouble: "it answers 500"},
	}
}

func TestShippingGolden(t *testing.T) {
	now := func() time.Time { return time.Unix(1_000_090, 500_000_000) }
	golden(t, "ship.prom", handlerOf(&shipCollector{bench: "pier-end", shipper: someShipping{}, now: now}))
}

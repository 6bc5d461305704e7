package config

import (
	"math"

	"soakline/checks"
	"soakline/device"
)

// readWear reads how a capacitor is followed over months.
func readWear(s *section) *checks.WearPlan {
	if s == nil {
		return nil
	}
	plan := &checks.WearPlan{
		Capacitance:      readWearLimit(s.sub("capacitance", optional), "low", device.Capacitance),
		ESR:              readWearLimit(s.sub("esr", optional), "high", device.SeriesResistance),
		Leakage:          readWearLimit(s.sub("leakage", optional), "high", device.DCCurrent),
		Source:           s.text("source", required),
		Thermometer:      checks.TestPointName(s.text("thermometer", optional)),
		ReferenceCelsius: s.number("reference_celsius", optional, defaultReference),
	}
	s.done()
	return plan
}

// readWearLimit reads the end of life of one figure.
func readWearLimit(s *section, end string, m device.Measure) *checks.WearLimit {
	if s == nil {
		return nil
	}
	limit := &checks.WearLimit{
		At:         checks.TestPointName(s.text("test_point", optional)),
		Limit:      s.quantity(end, m, optional, 0),
		OfFirst:    s.number("of_first", optional, 0),
		PerCelsius: s.number("per_celsius", optional, math.NaN()),
	}
	s.done()
	return limit
}

// formatWear returns the plan as readWear reads it.
func formatWear(p checks.WearPlan) group {
	g := group{}
	for _, f := range p.Figures() {
		if f.Limit == nil {
			continue
		}
		end := "high"
		if f.Low {
			end = "low"
		}
		limit := group{}
		limit.words("test_point", string(f.Limit.At))
		limit.known(end+f.Measure.Unit().KeySuffix, f.Limit.Limit)
		limit.known("of_first", f.Limit.OfFirst)
		limit.figure("per_celsius", f.Limit.PerCelsius)
		g.put(f.Name, limit.node())
	}
	g.text("source", p.Source)
	g.words("thermometer", string(p.Thermometer))
	g.figure("reference_celsius", p.ReferenceCelsius)
	return g
}

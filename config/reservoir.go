package config

import (
	"soakline/checks"
	"soakline/device"
)

// readReservoir reads what a reservoir capacitor is found by from its ripple.
func readReservoir(s *section) *checks.ReservoirPlan {
	if s == nil {
		return nil
	}
	plan := &checks.ReservoirPlan{
		MainsHertz:    s.quantity("mains", device.Frequency, required, 0),
		HalfWave:      s.truth("half_wave"),
		LoadAmperes:   s.quantity("load", device.DCCurrent, optional, 0),
		LoadTolerance: s.number("load_tolerance_pct", optional, 0) / 100,
		LoadAt:        checks.TestPointName(s.text("load_test_point", optional)),
	}
	s.done()
	return plan
}

// formatReservoir returns the plan as readReservoir reads it.
func formatReservoir(p checks.ReservoirPlan) group {
	g := group{}
	g.figure("mains_hz", p.MainsHertz)
	if p.HalfWave {
		g.put("half_wave", plain("true"))
	}
	g.known("load_a", p.LoadAmperes)
	if p.LoadTolerance != 0 {
		g.put("load_tolerance_pct", plain(percent(p.LoadTolerance)))
	}
	g.words("load_test_point", string(p.LoadAt))
	return g
}

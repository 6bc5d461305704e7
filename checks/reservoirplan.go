package checks

import (
	"fmt"
	"math"

	"soakline/device"
)

// ReservoirPlan says that a test point is across a reservoir capacitor, and what its
// capacitance and series resistance are found by from the ripple.
type ReservoirPlan struct {
	// MainsHertz is 50 or 60. HalfWave tells that the rectifier is meant to charge
	// once a mains period.
	MainsHertz float64
	HalfWave   bool
	// LoadAmperes is the current that the console draws from the capacitor, known to
	// LoadTolerance either way as a share of it; 0 where LoadAt names the test point
	// whose current is read beside.
	LoadAmperes, LoadTolerance float64
	LoadAt                     TestPointName
}

func (p *ReservoirPlan) validate(m *mistakes, path string) {
	if p.MainsHertz != 50 && p.MainsHertz != 60 {
		m.add(path+"mains_hz", "%g Hz: mains is 50 or 60 Hz", p.MainsHertz)
	}
	switch {
	case !(p.LoadAmperes >= 0) || math.IsInf(p.LoadAmperes, 0):
		m.add(path+"load_a", "%g A is no load current", p.LoadAmperes)
	case p.LoadAmperes > 0 && p.LoadAt != "":
		m.add(path+"load_test_point", "the load is given already as load_a: one of them")
	case p.LoadAmperes == 0 && p.LoadAt == "":
		m.add(path+"load_a", "give the load current, or load_test_point where it is read")
	}
	switch {
	case p.LoadAmperes > 0 && !(p.LoadTolerance > 0 && p.LoadTolerance < 1):
		m.add(path+"load_tolerance_pct", "%g %%: say how far from load_a the load may be, above 0 and below 100", 100*p.LoadTolerance)
	case p.LoadAmperes == 0 && p.LoadTolerance != 0:
		m.add(path+"load_tolerance_pct", "there is no load_a for it; that of a reading is the instrument's")
	}
}

// validateReservoirs looks at what needs the whole sheet: where loads are read.
func (s Sheet) validateReservoirs(m *mistakes, points map[TestPointName]int) {
	for i, p := range s.TestPoints {
		if p.Reservoir == nil || p.Reservoir.LoadAt == "" {
			continue
		}
		path := fmt.Sprintf("test_points[%d].reservoir.load_test_point", i)
		switch at, known := points[p.Reservoir.LoadAt]; {
		case !known:
			m.add(path, "there is no test point %q", p.Reservoir.LoadAt)
		case !s.TestPoints[at].measures(device.DCCurrent):
			m.add(path, "test point %q has no check of the current", p.Reservoir.LoadAt)
		}
	}
}

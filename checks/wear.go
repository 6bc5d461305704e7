package checks

import (
	"fmt"
	"math"

	"soakline/device"
)

// WearPlan says when the capacitor at a test point counts as worn, and what its
// figures are compared at.
type WearPlan struct {
	// Capacitance, ESR (series-resistance) and Leakage (dc-current) are what is
	// followed; nil where it is not.
	Capacitance, ESR, Leakage *WearLimit
	// Source says where the limits come from.
	Source string
	// Thermometer is the test point whose temperature is the part's; empty where
	// none is logged. Figures are brought to ReferenceCelsius.
	Thermometer      TestPointName
	ReferenceCelsius float64
}

// WearLimit is the end of life of one figure: the low end of a capacitance, the high
// end of the others.
type WearLimit struct {
	// At is the test point at which it is measured; empty for the one that the plan
	// stands at.
	At TestPointName
	// Limit is in the measure's unit, OfFirst a share of the part's own first figure,
	// which a label's wide tolerance can't hide wear in; 0 where there is none. The
	// stricter of the two counts.
	Limit, OfFirst float64
	// PerCelsius is the relative change for each degree; NaN where it is to be learnt
	// from the figures.
	PerCelsius float64
}

// WornFigure is one figure that tells wear.
type WornFigure struct {
	// Name is the key in the sheet.
	Name    string
	Measure device.Measure
	// Low tells that the limit is the low end.
	Low   bool
	Limit *WearLimit
}

// Figures are those that tell wear, followed or not, in the order of the sheet's
// keys.
func (p WearPlan) Figures() []WornFigure {
	return []WornFigure{
		{"capacitance", device.Capacitance, true, p.Capacitance},
		{"esr", device.SeriesResistance, false, p.ESR},
		{"leakage", device.DCCurrent, false, p.Leakage},
	}
}

// Key is where the figure is measured, for a plan that stands at a test point.
func (f WornFigure) Key(at TestPointName) CheckKey {
	if f.Limit != nil && f.Limit.At != "" {
		at = f.Limit.At
	}
	return CheckKey{TestPoint: at, Measure: f.Measure}
}

func (p WearPlan) validate(m *mistakes, path string) {
	followed := false
	for _, f := range p.Figures() {
		if f.Limit != nil {
			followed = true
			f.Limit.validate(m, path+f.Name+".", f)
		}
	}
	if !followed {
		m.add(path+"capacitance", "nothing is followed: give capacitance, esr or leakage")
	}
	if p.Source == "" {
		m.add(path+"source", "say where the limits come from")
	}
	if math.IsNaN(p.ReferenceCelsius) || math.IsInf(p.ReferenceCelsius, 0) {
		m.add(path+"reference_celsius", "%g is no temperature", p.ReferenceCelsius)
	}
}

func (l WearLimit) validate(m *mistakes, path string, f WornFigure) {
	end := "high"
	if f.Low {
		end = "low"
	}
	key := end + f.Measure.Unit().KeySuffix
	switch {
	case !(l.Limit >= 0) || math.IsInf(l.Limit, 0):
		m.add(path+key, "a limit is above 0, or left out where there is none")
	case l.Limit == 0 && l.OfFirst == 0:
		m.add(path+key, "there is no limit: give %s, of_first or both", key)
	}
	switch {
	case !(l.OfFirst >= 0) || math.IsInf(l.OfFirst, 0):
		m.add(path+"of_first", "a share of the first figure is above 0")
	case f.Low && l.OfFirst >= 1, !f.Low && l.OfFirst > 0 && l.OfFirst <= 1:
		m.add(path+"of_first", "at %g of its first figure a new part would be worn already", l.OfFirst)
	}
	if math.IsInf(l.PerCelsius, 0) || math.Abs(l.PerCelsius) > 1 {
		m.add(path+"per_celsius", "%g for each degree: it is a share, 0.002 for 0.2 %%", l.PerCelsius)
	}
}

// validateWear looks at what needs the whole sheet: where the figures are measured.
func (s Sheet) validateWear(m *mistakes, points map[TestPointName]int) {
	for i, point := range s.TestPoints {
		if point.Wear == nil {
			continue
		}
		path := fmt.Sprintf("test_points[%d].wear.", i)
		for _, f := range point.Wear.Figures() {
			if f.Limit == nil || f.Limit.At == "" {
				continue
			}
			if _, known := points[f.Limit.At]; !known {
				m.add(path+f.Name+".test_point", "there is no test point %q", f.Limit.At)
			}
		}
		name := point.Wear.Thermometer
		if at, known := points[name]; name != "" && !known {
			m.add(path+"thermometer", "there is no test point %q", name)
		} else if name != "" && !s.TestPoints[at].measures(device.Temperature) {
			m.add(path+"thermometer", "test point %q has no check of the temperature", name)
		}
	}
}

func (p TestPoint) measures(m device.Measure) bool {
	for _, c := range p.Checks {
		if c.Measure == m {
			return true
		}
	}
	return false
}

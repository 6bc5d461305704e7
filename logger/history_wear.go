package logger

import (
	"context"
	"math"
	"slices"
	"time"

	"soakline/checks"
	"soakline/checks/reservoir"
	"soakline/device"
	"soakline/logger/book"
)

// PartWear is how the capacitor at a test point has changed.
type PartWear struct {
	TestPoint checks.TestPointName
	Plan      checks.WearPlan
	// Limits are those that counted, by the part's first figures where the plan says
	// so.
	Limits reservoir.WearLimits
	reservoir.Wear
}

// besideWithin is how far from a figure a temperature may have been read to be the
// part's at that time (common practice, no source).
const besideWithin = 15 * time.Minute

// addWear follows the capacitors of the sheet.
func (h *historian) addWear(ctx context.Context) error {
	for _, point := range h.history.Sheet.TestPoints {
		if point.Wear == nil || h.options.TestPoint != "" && point.Name != h.options.TestPoint {
			continue
		}
		wear, err := h.wearOf(ctx, point)
		if err != nil {
			return err
		}
		h.history.Wear = append(h.history.Wear, wear)
	}
	return nil
}

// wearOf follows one capacitor: first for its first figures at the reference
// temperature, which limits may be shares of, then against those limits.
func (h *historian) wearOf(ctx context.Context, point checks.TestPoint) (PartWear, error) {
	plan := *point.Wear
	w := PartWear{TestPoint: point.Name, Plan: plan, Limits: reservoir.WearLimits{Source: plan.Source}}
	healths, err := h.healths(ctx, point.Name, plan)
	if err != nil {
		return w, err
	}
	options := reservoir.LearnTemperature(reservoir.WearLimits{})
	options.ReferenceCelsius = plan.ReferenceCelsius
	for _, o := range []struct {
		limit      *checks.WearLimit
		perCelsius *float64
	}{{plan.Capacitance, &options.CapacitancePerCelsius}, {plan.ESR, &options.ESRPerCelsius}, {plan.Leakage, &options.LeakagePerCelsius}} {
		if o.limit != nil {
			*o.perCelsius = o.limit.PerCelsius
		}
	}
	first, err := reservoir.AnalyseWear(healths, options)
	if err != nil {
		return w, err
	}
	w.Limits.LowFarads = wearLimit(plan.Capacitance, first.Capacitance.First, math.Max)
	w.Limits.HighESROhms = wearLimit(plan.ESR, first.ESR.First, math.Min)
	w.Limits.HighLeakageAmperes = wearLimit(plan.Leakage, first.Leakage.First, math.Min)
	options.Limits = w.Limits
	w.Wear, err = reservoir.AnalyseWear(healths, options)
	return w, err
}

// wearLimit is the stricter of a plan's limit and its share of the first figure; 0
// where there is neither.
func wearLimit(plan *checks.WearLimit, first float64, stricter func(a, b float64) float64) float64 {
	switch {
	case plan == nil:
		return 0
	case plan.OfFirst == 0 || !(first > 0):
		return plan.Limit
	case plan.Limit == 0:
		return plan.OfFirst * first
	default:
		return stricter(plan.Limit, plan.OfFirst*first)
	}
}

// healths are the measurements of a capacitor with its temperature, one figure each.
func (h *historian) healths(ctx context.Context, at checks.TestPointName, plan checks.WearPlan) ([]reservoir.Health, error) {
	var all []reservoir.Health
	for _, figure := range plan.Figures() {
		course := h.courses[figure.Key(at)]
		if figure.Limit == nil || course == nil {
			continue
		}
		for _, f := range course.Figures {
			health := reservoir.Unmeasured(f.At)
			switch figure.Measure {
			case device.Capacitance:
				health.CapacitanceFarads = f.Value
			case device.SeriesResistance:
				health.ESROhms = f.Value
			default:
				health.LeakageAmperes = f.Value
			}
			var err error
			if health.Celsius, err = h.celsius(ctx, f, plan.Thermometer); err != nil {
				return nil, err
			}
			all = append(all, health)
		}
	}
	return all, nil
}

// celsius is the thermometer's figure of the same round or soak, else its reading
// nearest in time; NaN where there is none.
func (h *historian) celsius(ctx context.Context, f HistoryFigure, thermometer checks.TestPointName) (float64, error) {
	if thermometer == "" {
		return math.NaN(), nil
	}
	key := checks.CheckKey{TestPoint: thermometer, Measure: device.Temperature}
	switch f.Kind {
	case OfSoak:
		at := slices.IndexFunc(h.soaks, func(s soakFigures) bool { return s.soak.ID == f.Soak })
		if beside, ok := h.soaks[at].figures[key]; ok {
			return beside.Value, nil
		}
	case OfRound:
		at := slices.IndexFunc(h.rounds, func(r book.Round) bool { return r.Label == f.Label })
		for _, r := range h.rounds[at].Readings {
			if r.TestPoint == thermometer && r.Measure == device.Temperature {
				return r.Value, nil
			}
		}
	}
	return h.nearest(ctx, key, f.At)
}

// nearest is the reading of a check that is nearest to a moment, of the book's or of
// a round.
func (h *historian) nearest(ctx context.Context, key checks.CheckKey, at time.Time) (float64, error) {
	found, apart := math.NaN(), besideWithin
	take := func(r device.Reading) {
		if d := r.At.Sub(at).Abs(); d <= apart {
			found, apart = r.Value, d
		}
	}
	for _, round := range h.rounds {
		for _, r := range round.Readings {
			if r.TestPoint == key.TestPoint && r.Measure == key.Measure {
				take(r.Reading)
			}
		}
	}
	filter := book.Filter{Unit: h.history.Unit.ID, TestPoint: key.TestPoint, Measure: key.Measure,
		Since: at.Add(-besideWithin), Until: at.Add(besideWithin)}
	for r, err := range h.book.Readings(ctx, filter) {
		if err != nil {
			return found, err
		}
		take(r.Reading)
	}
	return found, nil
}

package reservoir

import (
	"errors"
	"fmt"
	"math"
	"time"
)

// Health is one measurement of a capacitor, of a soak or a round. What was not
// measured is NaN.
type Health struct {
	At                time.Time
	CapacitanceFarads float64
	ESROhms           float64
	LeakageAmperes    float64
	// Celsius is the part's temperature.
	Celsius float64
}

// Unmeasured returns a Health with nothing in it but its time.
func Unmeasured(at time.Time) Health {
	n := math.NaN()
	return Health{At: at, CapacitanceFarads: n, ESROhms: n, LeakageAmperes: n, Celsius: n}
}

// WearLimits are the ends of a part's life; 0 where there is none. Source says where
// they come from: a standard and clause, a data sheet, "common practice, no source".
type WearLimits struct {
	LowFarads, HighESROhms, HighLeakageAmperes float64
	Source                                     string
}

// LimitsFromFirst are limits in terms of the part's own first measurement, which the
// label's wide tolerance can't hide wear in: a fifth of the capacitance lost, the
// series resistance doubled (common practice, no source; makers' limits differ from
// 15 to 50 %, W-60 to W-67).
func LimitsFromFirst(first Health) WearLimits {
	l := WearLimits{Source: "common practice, no source: of the first measurement of this part"}
	if first.CapacitanceFarads > 0 {
		l.LowFarads = 0.8 * first.CapacitanceFarads
	}
	if first.ESROhms > 0 {
		l.HighESROhms = 2 * first.ESROhms
	}
	return l
}

// WearOptions say how measurements at different times are compared.
type WearOptions struct {
	Limits WearLimits
	// ReferenceCelsius is the temperature that figures are brought to; 0 is 0 degrees.
	ReferenceCelsius float64
	// The relative change for each degree: 0.002 is 0.2 % more. NaN lets them be
	// learnt where there are eight measurements and more over three degrees and
	// more; else figures are compared as they are.
	CapacitancePerCelsius, ESRPerCelsius, LeakagePerCelsius float64
	// Confidence of the intervals; 0 for 0.95.
	Confidence float64
}

// LearnTemperature are options that know no coefficient and bring figures to 25
// degrees with those that they learn.
func LearnTemperature(limits WearLimits) WearOptions {
	n := math.NaN()
	return WearOptions{Limits: limits, ReferenceCelsius: 25, CapacitancePerCelsius: n, ESRPerCelsius: n, LeakagePerCelsius: n}
}

// Validate says what is wrong with the options, all of it at once.
func (o WearOptions) Validate() error {
	var wrong []error
	for _, limit := range []struct {
		key   string
		value float64
	}{{"limit capacitance low_f", o.Limits.LowFarads}, {"limit esr high_ohm", o.Limits.HighESROhms}, {"limit leakage high_a", o.Limits.HighLeakageAmperes}} {
		if !(limit.value >= 0) || math.IsInf(limit.value, 0) {
			wrong = append(wrong, fmt.Errorf("%s is %v, wanted 0 or more", limit.key, limit.value))
		}
	}
	if o.Limits.Source == "" && (o.Limits.LowFarads > 0 || o.Limits.HighESROhms > 0 || o.Limits.HighLeakageAmperes > 0) {
		wrong = append(wrong, errors.New("the limits have no source"))
	}
	if !finite(o.ReferenceCelsius) {
		wrong = append(wrong, fmt.Errorf("reference_celsius is %v, wanted a number", o.ReferenceCelsius))
	}
	if !(o.Confidence >= 0 && o.Confidence < 1) {
		wrong = append(wrong, fmt.Errorf("confidence is %v, wanted below 1", o.Confidence))
	}
	return errors.Join(wrong...)
}

// UsefulLifeHours is the life that the ten-degree rule gives: twice as long for ten
// degrees less (W-80; a rule that holds in a limited range).
func UsefulLifeHours(ratedHours, ratedCelsius, celsius float64) float64 {
	return ratedHours * math.Exp2((ratedCelsius-celsius)/10)
}

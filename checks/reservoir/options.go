package reservoir

import (
	"errors"
	"fmt"
	"math"
)

// DischargeOptions say what is known about a discharge. The zero value knows
// nothing.
type DischargeOptions struct {
	// BelowVolts is the voltage from the sheet that the discharge should come down
	// to; 0 where there is none.
	BelowVolts float64
	// LoadOhms is the discharge path, the meter not counted, with its standard
	// uncertainty; CapacitanceFarads the part's capacitance. At most one is above
	// 0: the other then follows from the time constant.
	LoadOhms, LoadU                 float64
	CapacitanceFarads, CapacitanceU float64
	// MeterOhms is the meter's own resistance; 0 for UsualMeterOhms, +Inf for none.
	MeterOhms float64
	// LoadAmperes is the constant current before a regulator drops out; 0 where
	// unknown.
	LoadAmperes float64
	// ExpectedTauSeconds is what the time constant should be with the bleeder
	// whole; 0 where unknown.
	ExpectedTauSeconds float64
}

// Validate says what is wrong with the options, all of it at once.
func (o DischargeOptions) Validate() error {
	var wrong []error
	for _, figure := range []struct {
		key   string
		value float64
	}{
		{"safe_v", o.BelowVolts}, {"load_ohm", o.LoadOhms}, {"load_u_ohm", o.LoadU},
		{"capacitance_f", o.CapacitanceFarads}, {"capacitance_u_f", o.CapacitanceU},
		{"load_a", o.LoadAmperes}, {"expected_tau_s", o.ExpectedTauSeconds},
	} {
		if !(figure.value >= 0) || math.IsInf(figure.value, 0) {
			wrong = append(wrong, fmt.Errorf("%s is %v, wanted 0 or more", figure.key, figure.value))
		}
	}
	if !(o.MeterOhms >= 0) {
		wrong = append(wrong, fmt.Errorf("meter_ohm is %v, wanted 0 or more", o.MeterOhms))
	}
	if o.LoadOhms > 0 && o.CapacitanceFarads > 0 {
		wrong = append(wrong, errors.New("load_ohm and capacitance_f are both given: give one, the other is found"))
	}
	return errors.Join(wrong...)
}

func (o DischargeOptions) meter() float64 {
	if o.MeterOhms == 0 {
		return UsualMeterOhms
	}
	return o.MeterOhms
}

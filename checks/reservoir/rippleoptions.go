package reservoir

import (
	"errors"
	"fmt"
	"math"
)

// RippleOptions say what is known about a supply whose ripple was recorded.
type RippleOptions struct {
	// One of LoadAmperes (constant current) and LoadOhms is above 0; LoadU is the
	// standard uncertainty of that one.
	LoadAmperes, LoadOhms, LoadU float64
	// RippleHertz is about the frequency of the ripple: twice the mains frequency,
	// or once with HalfWave.
	RippleHertz float64
	HalfWave    bool
}

// Validate says what is wrong with the options, all of it at once.
func (o RippleOptions) Validate() error {
	var wrong []error
	if (o.LoadAmperes > 0) == (o.LoadOhms > 0) || !(o.LoadAmperes >= 0) || !(o.LoadOhms >= 0) || math.IsInf(o.LoadAmperes+o.LoadOhms, 1) {
		wrong = append(wrong, fmt.Errorf("load is %v A and %v ohm, wanted one of them above 0", o.LoadAmperes, o.LoadOhms))
	}
	if !(o.RippleHertz > 0) || math.IsInf(o.RippleHertz, 1) {
		wrong = append(wrong, fmt.Errorf("ripple_hz is %v, wanted above 0", o.RippleHertz))
	}
	if !(o.LoadU >= 0) {
		wrong = append(wrong, fmt.Errorf("load_u is %v, wanted 0 or more", o.LoadU))
	}
	return errors.Join(wrong...)
}

package video

import "fmt"

// Options say what is known beforehand. The zero value knows and judges nothing.
type Options struct {
	// System is what the unit should give; empty where it may be either.
	System System
	// Coupling, if set, overrides the record's.
	Coupling string
	// Limits are what the figures are judged by.
	Limits Limits
	// PictureHasWhite tells that the picture is known to hold peak white, so that
	// its brightest flat part is white however low it is.
	PictureHasWhite bool
	// MainsHertz is 50 or 60; 0 where it may be either.
	MainsHertz float64
	// ScopeBandwidthHertz is the scope's own bandwidth, taken out of rise and fall;
	// 0 where unknown.
	ScopeBandwidthHertz float64
}

func (o Options) check() error {
	if o.System != "" && o.System != System625 && o.System != System525 {
		return fmt.Errorf("system %q is neither %q nor %q", o.System, System625, System525)
	}
	if o.Coupling != "" && o.Coupling != CouplingDC && o.Coupling != CouplingAC {
		return fmt.Errorf("coupling %q is neither %q nor %q", o.Coupling, CouplingDC, CouplingAC)
	}
	if o.MainsHertz != 0 && o.MainsHertz != 50 && o.MainsHertz != 60 {
		return fmt.Errorf("mains frequency %g Hz is neither 50 nor 60", o.MainsHertz)
	}
	if !(o.ScopeBandwidthHertz >= 0) {
		return fmt.Errorf("scope bandwidth %g Hz is below 0", o.ScopeBandwidthHertz)
	}
	if err := o.Limits.Validate(); err != nil {
		return fmt.Errorf("limits: %w", err)
	}
	return nil
}

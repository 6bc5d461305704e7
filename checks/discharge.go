package checks

import (
	"math"
	"time"
)

// DischargePlan is what the sheet asks of a capacitor before hands go near it. No
// figure in it says that anything may be touched.
type DischargePlan struct {
	// BelowVolts is the voltage, by size, that a discharge is watched down to; it
	// must be above 0.
	BelowVolts float64
	// WatchFor is how long the voltage is watched below it, because charge comes
	// back by itself.
	WatchFor time.Duration
	// LoadOhms is the discharge path where it is known, without the meter; 0 where it
	// is not. The capacitance then follows from the time constant.
	LoadOhms float64
	// CapacitanceFarads is the part's nominal capacitance, ExpectedTau the time
	// constant that the fall has with its path whole; 0 where unknown.
	CapacitanceFarads float64
	ExpectedTau       time.Duration
}

// TauExpected is the time constant that the fall should have: the one given, else
// that of the nominal capacitance and the load; 0 where neither tells it.
func (p DischargePlan) TauExpected() time.Duration {
	if p.ExpectedTau > 0 {
		return p.ExpectedTau
	}
	return time.Duration(p.LoadOhms * p.CapacitanceFarads * float64(time.Second))
}

func (p DischargePlan) validate(m *mistakes, path string) {
	if !(p.BelowVolts > 0) || math.IsInf(p.BelowVolts, 0) {
		m.add(path+"below_v", "the voltage to come down to is above 0")
	}
	if p.WatchFor <= 0 {
		m.add(path+"watch_for", "watch for longer than nothing: charge comes back by itself")
	}
	if !(p.LoadOhms >= 0) || math.IsInf(p.LoadOhms, 0) {
		m.add(path+"load_ohm", "a load is above 0 ohm, or left out where it is not known")
	}
	if !(p.CapacitanceFarads >= 0) || p.CapacitanceFarads > 1e3 {
		m.add(path+"capacitance_f", "a capacitance is above 0 F, or left out where it is not known")
	}
	if p.ExpectedTau < 0 {
		m.add(path+"expected_tau", "a time constant is above 0, or left out where it is not known")
	}
}

// StoredChargeCautions are what a person must have read before a reservoir
// capacitor is worked at: common practice at a bench, in the order in which it
// matters.
func StoredChargeCautions() []string {
	return []string{
		"Unplugged is not discharged. Take the plug out, keep it in sight, and measure across the capacitor with a meter that you have just proved on a known source; prove it again afterwards.",
		"This program reads instruments. It cannot see whether a part is live, charged or isolated, and no figure or word of it says that something may be touched. A reading that is missing or old is not known.",
		"Treat anything above 60 V DC or 42.4 V peak as live. A large capacitor at a few volts still burns and welds.",
		"Discharge through a resistor chosen for the voltage, the power and the time, on insulated leads, and leave it or a short across the part while you work. A bare screwdriver damages parts and throws metal.",
		"The voltage comes back by itself, an electrolytic by up to 15 %. Wait some minutes and measure again.",
		"An estimated time holds only while the discharge path is whole. A fall that is slower than it should be means that the bleeder may be open.",
		"Check polarity and rating before power; wear a face shield when a new electrolytic is powered for the first time. A bulged, hot or leaking part comes out, with gloves on.",
		"Mains-side work and picture tubes are for those trained or licensed for them where you are; everyone else stops at the covers. Local rules, the maker's instructions and your instruments' ratings come first.",
	}
}

package supply

import "math"

// DipKind is how deep a dip is.
type DipKind string

// The kinds of dip. A dropout goes below a tenth of nominal, a brown-out below nine
// tenths of it or below the sheet's low limit (the shares are those in use for mains
// dips and interruptions, IEC 61000-4-30 and IEEE 1159, from memory).
const (
	Dropout  DipKind = "dropout"
	BrownOut DipKind = "brown-out"
)

const (
	dropoutShare  = 0.1
	brownOutShare = 0.9
)

// Dip is an interval in which the rail was too low.
type Dip struct {
	Kind DipKind
	// BeginSeconds is the first reading below, EndSeconds the first one above
	// again; NaN while it lasts.
	BeginSeconds, EndSeconds float64
	// LowestVolts is the lowest reading, DepthShare how much of nominal was missing
	// there.
	LowestVolts, DepthShare float64
	// Broken tells that readings were missing inside or at an end of it, so that it
	// may have been longer.
	Broken bool
}

// Seconds is how long the dip lasted; NaN while it lasts.
func (d Dip) Seconds() float64 { return d.EndSeconds - d.BeginSeconds }

// DipWatch finds dips among readings that come one by one, at constant memory.
type DipWatch struct {
	nominal, threshold float64
	freshFor           float64
	open               bool
	dip                Dip
	last               float64
	seen               bool
	missing            float64
}

// NewDipWatch returns a watch of a rail. nominalVolts is by size and above 0.
// lowVolts is the sheet's low limit, 0 for nine tenths of nominal; freshForSeconds
// how far apart readings may be before the time between is not known, 0 for any.
func NewDipWatch(nominalVolts, lowVolts, freshForSeconds float64) *DipWatch {
	threshold := lowVolts
	if !(threshold > 0) {
		threshold = brownOutShare * nominalVolts
	}
	return &DipWatch{nominal: nominalVolts, threshold: threshold, freshFor: freshForSeconds}
}

// Observe takes a reading in volts, by size, at a time in seconds. It returns a dip
// when one has ended. A reading that is not a number tells nothing, as if it were
// missing; nor does one that is not later than the last.
func (w *DipWatch) Observe(seconds, volts float64) (ended Dip, ok bool) {
	if math.IsNaN(volts) || math.IsInf(volts, 0) || math.IsNaN(seconds) || math.IsInf(seconds, 0) || w.seen && seconds <= w.last {
		return Dip{}, false
	}
	gap := w.seen && w.freshFor > 0 && seconds-w.last > w.freshFor
	if gap {
		w.missing += seconds - w.last
		w.dip.Broken = w.dip.Broken || w.open
	}
	w.seen, w.last = true, seconds
	if volts < w.threshold {
		w.lower(seconds, volts, gap)
		return Dip{}, false
	}
	if !w.open {
		return Dip{}, false
	}
	w.open = false
	w.dip.EndSeconds = seconds
	return w.dip, true
}

func (w *DipWatch) lower(seconds, volts float64, gap bool) {
	if !w.open {
		w.open = true
		w.dip = Dip{Kind: BrownOut, BeginSeconds: seconds, EndSeconds: math.NaN(), LowestVolts: volts, Broken: gap}
	}
	w.dip.LowestVolts = min(w.dip.LowestVolts, volts)
	w.dip.DepthShare = 1 - w.dip.LowestVolts/w.nominal
	if w.dip.LowestVolts < dropoutShare*w.nominal {
		w.dip.Kind = Dropout
	}
}

// Now returns the dip that has not ended.
func (w *DipWatch) Now() (Dip, bool) { return w.dip, w.open }

// MissingSeconds is the time in which readings were too far apart to tell anything:
// neither a dip nor none.
func (w *DipWatch) MissingSeconds() float64 { return w.missing }

// Dips finds all dips in readings at times in seconds; one that lasts at the end
// has no end. See NewDipWatch for the figures.
func Dips(seconds, volts []float64, nominalVolts, lowVolts, freshForSeconds float64) []Dip {
	w := NewDipWatch(nominalVolts, lowVolts, freshForSeconds)
	var all []Dip
	for i, t := range seconds[:min(len(seconds), len(volts))] {
		if d, ended := w.Observe(t, volts[i]); ended {
			all = append(all, d)
		}
	}
	if d, open := w.Now(); open {
		all = append(all, d)
	}
	return all
}

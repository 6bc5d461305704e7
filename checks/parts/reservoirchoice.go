package parts

import "fmt"

// ReservoirTarget asks for the capacitor that keeps the ripple to a figure.
type ReservoirTarget struct {
	// Reservoir is the rest of the supply; its CapacitanceF is not looked at.
	Reservoir Reservoir
	// RippleV is the most ripple, peak to peak, below PeakV.
	RippleV float64
	Series  Series
}

// Validate says what cannot be calculated with, all of it at once.
func (t ReservoirTarget) Validate() error {
	var m mistakes
	m.above0("ripple_v", t.RippleV)
	m.add(!(t.RippleV >= t.Reservoir.PeakV), "ripple_v", t.RippleV, "below peak_v")
	m.known("series", t.Series)
	if err := t.with(1).Validate(); err != nil {
		m = append(m, err)
	}
	return m.err()
}

// ReservoirChoice is the capacitor for a wanted ripple.
type ReservoirChoice struct {
	Series Series `json:"series"`
	// SimpleF is what the rule of thumb asks for, ExactF what the form does that
	// fits the load; neither has room for the part's tolerance or wear.
	SimpleF float64 `json:"simple_f"`
	ExactF  float64 `json:"exact_f"`
	// Fitted is the ripple with the next preferred value at or above ExactF.
	Fitted ReservoirResult `json:"fitted"`
}

// Choose returns the capacitor for the target: C = I T/dV by the rule of thumb,
// and the one for which the exact form gives the ripple wanted.
func (t ReservoirTarget) Choose() (ReservoirChoice, error) {
	if err := t.Validate(); err != nil {
		return ReservoirChoice{}, err
	}
	choice := ReservoirChoice{Series: t.Series, SimpleF: t.with(1).simple() / t.RippleV}
	// The rule of thumb always asks for more than the exact form does.
	choice.ExactF = halve(0, choice.SimpleF, func(farad float64) bool {
		return t.with(farad).ripple() > t.RippleV
	})
	_, above := t.Series.Neighbours(choice.ExactF)
	fitted, err := t.with(above).Calculate()
	if err != nil {
		return ReservoirChoice{}, fmt.Errorf("no preferred value near %v F: %w", choice.ExactF, err)
	}
	choice.Fitted = fitted
	return finite(choice)
}

func (t ReservoirTarget) with(farad float64) Reservoir {
	r := t.Reservoir
	r.CapacitanceF = farad
	return r
}

// Rows are the choice's figures for a table.
func (c ReservoirChoice) Rows() []Row {
	return append([]Row{
		{"by the rule of thumb", c.SimpleF, Farad},
		{"exact value", c.ExactF, Farad},
	}, c.Fitted.Rows()...)
}

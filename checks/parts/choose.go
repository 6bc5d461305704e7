package parts

import (
	"fmt"
	"math"
)

// ShuntTarget asks for the shunt capacitor that gives a wanted corner, or a wanted
// attenuation at one frequency.
type ShuntTarget struct {
	SourceOhm float64
	// LoadOhm is +Inf where nothing is connected.
	LoadOhm float64
	// CornerHz is the corner wanted; 0 where an attenuation is.
	CornerHz float64
	// AttenuationDB is wanted at AtHz; both 0 where a corner is.
	AttenuationDB, AtHz float64
	Series              Series
}

// Validate says what cannot be calculated with, all of it at once.
func (t ShuntTarget) Validate() error {
	var m mistakes
	m.above0("source_ohm", t.SourceOhm)
	m.aboveOrOpen("load_ohm", t.LoadOhm)
	m.known("series", t.Series)
	switch {
	case t.CornerHz != 0 && (t.AttenuationDB != 0 || t.AtHz != 0):
		m.add(false, "corner_hz", t.CornerHz, "either a corner or an attenuation at a frequency, not both")
	case t.CornerHz != 0:
		m.above0("corner_hz", t.CornerHz)
	default:
		m.above0("attenuation_db", t.AttenuationDB)
		m.above0("at_hz", t.AtHz)
	}
	return m.err()
}

// known wants a series of IEC 60063.
func (m *mistakes) known(key string, s Series) {
	codes, _ := s.codes()
	m.add(codes != nil, key, float64(s), "one of the series 3, 6, 12, 24, 48, 96")
}

// ShuntChoice is the capacitor for a target.
type ShuntChoice struct {
	Series Series `json:"series"`
	// ExactF would meet the target exactly.
	ExactF float64 `json:"exact_f"`
	// Best is the preferred value that comes nearest to the target in what was
	// asked for (corner in ratio, attenuation in dB); Other its neighbour on the
	// other side, the same as Best where the exact value is a preferred one.
	Best  ShuntResult `json:"best"`
	Other ShuntResult `json:"other"`
}

// Choose returns the capacitor for the target:
//
//	fc = f/sqrt(10^(a/10) - 1) for an attenuation a in dB at f
//	C = 1/(2 pi (Rs || RL) fc)
//
// and its neighbours in the series of IEC 60063, the better one first.
func (t ShuntTarget) Choose() (ShuntChoice, error) {
	if err := t.Validate(); err != nil {
		return ShuntChoice{}, err
	}
	corner := t.CornerHz
	if corner == 0 {
		corner = t.AtHz / math.Sqrt(math.Expm1(t.AttenuationDB*math.Ln10/10))
	}
	exact := 1 / (2 * math.Pi * parallel(t.SourceOhm, t.LoadOhm) * corner)
	below, above := t.Series.Neighbours(exact)
	best, err := t.with(below)
	if err != nil {
		return ShuntChoice{}, fmt.Errorf("no preferred value near %v F: %w", exact, err)
	}
	other, err := t.with(above)
	if err != nil {
		return ShuntChoice{}, fmt.Errorf("no preferred value near %v F: %w", exact, err)
	}
	if t.miss(other) < t.miss(best) {
		best, other = other, best
	}
	return finite(ShuntChoice{Series: t.Series, ExactF: exact, Best: best, Other: other})
}

func (t ShuntTarget) with(farad float64) (ShuntResult, error) {
	s := ShuntCapacitor{SourceOhm: t.SourceOhm, LoadOhm: t.LoadOhm, CapacitanceF: farad}
	if t.AtHz != 0 {
		s.AtHz = []float64{t.AtHz}
	}
	return s.Calculate()
}

// miss is how far a result is from the target, in the target's own measure.
func (t ShuntTarget) miss(r ShuntResult) float64 {
	if t.CornerHz != 0 {
		return math.Abs(math.Log(r.CornerHz / t.CornerHz))
	}
	return math.Abs(r.At[len(r.At)-1].AttenuationDB - t.AttenuationDB)
}

// Rows are the choice's figures for a table.
func (c ShuntChoice) Rows() []Row {
	return append([]Row{{"exact value", c.ExactF, Farad}}, c.Best.Rows()...)
}

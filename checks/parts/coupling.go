package parts

import "math"

// SeriesCapacitor is a coupling capacitor between a source and a load: a single
// pole that takes off low frequencies.
type SeriesCapacitor struct {
	SourceOhm, LoadOhm float64
	CapacitanceF       float64
	// FlatS is how long a flat level lasts of which the droop is asked; 0 for none.
	FlatS float64
}

// Validate says what cannot be calculated with, all of it at once.
func (s SeriesCapacitor) Validate() error {
	var m mistakes
	m.notBelow0("source_ohm", s.SourceOhm)
	m.above0("load_ohm", s.LoadOhm)
	m.above0("capacitance_f", s.CapacitanceF)
	m.notBelow0("flat_s", s.FlatS)
	return m.err()
}

// SeriesResult is what a coupling capacitor does.
type SeriesResult struct {
	CornerHz float64 `json:"corner_hz"`
	// TimeConstantS is (Rs + RL) C.
	TimeConstantS float64 `json:"time_constant_s"`
	// DroopRatio is the share of a flat level that is lost by its end.
	DroopRatio float64 `json:"droop_ratio"`
}

// Calculate returns
//
//	fc = 1/(2 pi (Rs + RL) C)   droop = 1 - exp(-t/((Rs + RL) C))
func (s SeriesCapacitor) Calculate() (SeriesResult, error) {
	if err := s.Validate(); err != nil {
		return SeriesResult{}, err
	}
	tau := (s.SourceOhm + s.LoadOhm) * s.CapacitanceF
	return finite(SeriesResult{
		CornerHz:      1 / (2 * math.Pi * tau),
		TimeConstantS: tau,
		DroopRatio:    -math.Expm1(-s.FlatS / tau),
	})
}

// Rows are the result's figures for a table.
func (r SeriesResult) Rows() []Row {
	return []Row{
		{"corner (-3 dB)", r.CornerHz, Hertz},
		{"time constant", r.TimeConstantS, Second},
		{"droop", 100 * r.DroopRatio, Percent},
	}
}

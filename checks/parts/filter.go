package parts

import "math"

// Colour subcarriers in hertz: SMPTE 170M (315/88 MHz) and ITU-R BT.470-6.
const (
	Subcarrier525Hz = 315e6 / 88
	Subcarrier625Hz = 4433618.75
)

// ShuntCapacitor is a capacitor to ground at a node that a source drives and a
// load hangs on: a single pole that takes off high frequencies.
type ShuntCapacitor struct {
	SourceOhm float64
	// LoadOhm is +Inf where nothing is connected.
	LoadOhm      float64
	CapacitanceF float64
	// EdgeRiseS is the 10-90 % rise time of the edge that comes in; 0 for a step.
	EdgeRiseS float64
	// AtHz are frequencies wanted besides the two colour subcarriers.
	AtHz []float64
}

// Validate says what cannot be calculated with, all of it at once.
func (s ShuntCapacitor) Validate() error {
	var m mistakes
	m.above0("source_ohm", s.SourceOhm)
	m.aboveOrOpen("load_ohm", s.LoadOhm)
	m.above0("capacitance_f", s.CapacitanceF)
	m.notBelow0("edge_rise_s", s.EdgeRiseS)
	for _, hz := range s.AtHz {
		m.above0("at_hz", hz)
	}
	return m.err()
}

// ShuntResult is what a shunt capacitor does.
type ShuntResult struct {
	CapacitanceF float64 `json:"capacitance_f"`
	// ResistanceOhm is source and load in parallel, as the capacitor sees them.
	ResistanceOhm float64 `json:"resistance_ohm"`
	// CornerHz is where the level is 3.01 dB down.
	CornerHz float64 `json:"corner_hz"`
	// RiseS is the 10-90 % rise time that a step gets; EdgeRiseS that of the edge
	// that comes in, after the filter.
	RiseS     float64 `json:"rise_s"`
	EdgeRiseS float64 `json:"edge_rise_s"`
	// At are the two colour subcarriers, then the frequencies asked for.
	At []Attenuation `json:"at"`
}

// Attenuation is a filter at one frequency, against its own level at 0 Hz.
type Attenuation struct {
	Label       string  `json:"label"`
	FrequencyHz float64 `json:"frequency_hz"`
	// AttenuationDB is how far the level is down, 0 or more; LevelRatio what is
	// left of it, 1 or less.
	AttenuationDB float64 `json:"attenuation_db"`
	LevelRatio    float64 `json:"level_ratio"`
}

// Calculate returns the filter's figures:
//
//	R = Rs || RL   fc = 1/(2 pi R C)   a(f) = 10 log10(1 + (f/fc)^2)
//	rise = ln 9 R C (a single pole has rise x fc = ln 9/(2 pi) = 0.349699)
//	rise of an edge = sqrt(edge^2 + rise^2), exact for Gaussian edges only
func (s ShuntCapacitor) Calculate() (ShuntResult, error) {
	if err := s.Validate(); err != nil {
		return ShuntResult{}, err
	}
	r := parallel(s.SourceOhm, s.LoadOhm)
	corner := 1 / (2 * math.Pi * r * s.CapacitanceF)
	rise := math.Log(9) * r * s.CapacitanceF
	result := ShuntResult{
		CapacitanceF: s.CapacitanceF, ResistanceOhm: r, CornerHz: corner,
		RiseS: rise, EdgeRiseS: math.Hypot(s.EdgeRiseS, rise),
		At: []Attenuation{
			attenuationAt("525/60 subcarrier", Subcarrier525Hz, corner),
			attenuationAt("625/50 subcarrier", Subcarrier625Hz, corner),
		},
	}
	for _, hz := range s.AtHz {
		result.At = append(result.At, attenuationAt("at "+Figure(hz, Hertz, 4), hz, corner))
	}
	return finite(result)
}

func attenuationAt(label string, hz, cornerHz float64) Attenuation {
	db := 10 * math.Log10(1+(hz/cornerHz)*(hz/cornerHz))
	return Attenuation{label, hz, db, math.Pow(10, -db/20)}
}

// Rows are the result's figures for a table.
func (r ShuntResult) Rows() []Row {
	rows := []Row{
		{"capacitor", r.CapacitanceF, Farad},
		{"resistance at the node", r.ResistanceOhm, Ohm},
		{"corner (-3 dB)", r.CornerHz, Hertz},
		{"rise time of a step", r.RiseS, Second},
		{"rise time of the edge", r.EdgeRiseS, Second},
	}
	for _, a := range r.At {
		rows = append(rows, Row{a.Label, -a.AttenuationDB, Decibel})
	}
	return rows
}

// parallel is a || b; either may be +Inf for nothing connected.
func parallel(a, b float64) float64 { return 1 / (1/a + 1/b) }

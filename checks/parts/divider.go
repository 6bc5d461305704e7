package parts

import "math"

// Divider is two resistors from a source to ground, with a load on the tap. A
// source with its own resistance into a load is the same: TopOhm is the source,
// BottomOhm the load.
type Divider struct {
	TopOhm, BottomOhm float64
	// LoadOhm hangs on the tap; +Inf where nothing is connected.
	LoadOhm float64
	// InputV is the voltage at the top; negative is allowed.
	InputV float64
}

// Validate says what cannot be calculated with, all of it at once.
func (d Divider) Validate() error {
	var m mistakes
	m.notBelow0("top_ohm", d.TopOhm)
	m.above0("bottom_ohm", d.BottomOhm)
	m.aboveOrOpen("load_ohm", d.LoadOhm)
	m.finite("input_v", d.InputV)
	return m.err()
}

// DividerResult is what a divider does.
type DividerResult struct {
	TopOhm    float64 `json:"top_ohm"`
	BottomOhm float64 `json:"bottom_ohm"`
	// OutputV is the voltage at the tap with the load on it, Ratio what share of
	// the input it is, and LevelDB the same in decibels.
	OutputV float64 `json:"output_v"`
	Ratio   float64 `json:"ratio"`
	LevelDB float64 `json:"level_db"`
	// OutputOhm is the resistance that the load sees; CurrentA flows from the
	// input, and DissipationW is what both resistors and the load turn to heat.
	OutputOhm    float64 `json:"output_ohm"`
	CurrentA     float64 `json:"current_a"`
	DissipationW float64 `json:"dissipation_w"`
}

// Calculate returns, with B = bottom || load,
//
//	ratio = B/(top + B)   level = 20 log10 ratio   I = V/(top + B)   P = V I
func (d Divider) Calculate() (DividerResult, error) {
	if err := d.Validate(); err != nil {
		return DividerResult{}, err
	}
	ratio := d.ratio()
	current := d.InputV / (d.TopOhm + parallel(d.BottomOhm, d.LoadOhm))
	return finite(DividerResult{
		TopOhm: d.TopOhm, BottomOhm: d.BottomOhm,
		OutputV: d.InputV * ratio, Ratio: ratio, LevelDB: decibels(ratio),
		OutputOhm: parallel(d.TopOhm, d.BottomOhm),
		CurrentA:  current, DissipationW: d.InputV * current,
	})
}

func (d Divider) ratio() float64 {
	b := parallel(d.BottomOhm, d.LoadOhm)
	return b / (d.TopOhm + b)
}

// decibels is 20 log10 of a ratio of voltages.
func decibels(ratio float64) float64 { return 20 * math.Log10(ratio) }

// Rows are the result's figures for a table.
func (r DividerResult) Rows() []Row {
	return []Row{
		{"top resistor", r.TopOhm, Ohm},
		{"bottom resistor", r.BottomOhm, Ohm},
		{"output", r.OutputV, Volt},
		{"ratio", r.Ratio, Ratio},
		{"level", r.LevelDB, Decibel},
		{"output resistance", r.OutputOhm, Ohm},
		{"current", r.CurrentA, Ampere},
		{"dissipation", r.DissipationW, Watt},
	}
}

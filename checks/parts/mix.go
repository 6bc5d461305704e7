package parts

import "fmt"

// Mix is several sources, each through its own resistor, into one node: either a
// passive node with a load, or the input of an inverting amplifier. The sources'
// own resistances belong into the resistors.
type Mix struct {
	Inputs []MixInput
	// LoadOhm is what hangs on a passive node; +Inf for nothing.
	LoadOhm float64
	// FeedbackOhm, if above 0, makes the node a virtual earth with this feedback
	// resistor; LoadOhm then does not matter.
	FeedbackOhm float64
}

// MixInput is one source and its resistor.
type MixInput struct {
	Name string
	Ohm  float64
}

// Validate says what cannot be calculated with, all of it at once.
func (x Mix) Validate() error {
	var m mistakes
	m.add(len(x.Inputs) > 0, "inputs", float64(len(x.Inputs)), "at least one")
	for i, in := range x.Inputs {
		m.above0(fmt.Sprintf("inputs[%d].ohm", i), in.Ohm)
	}
	m.notBelow0("feedback_ohm", x.FeedbackOhm)
	if x.FeedbackOhm == 0 {
		m.aboveOrOpen("load_ohm", x.LoadOhm)
	}
	return m.err()
}

// MixResult is how loud each source is at the node.
type MixResult struct {
	// NodeOhm is the resistance of a passive node with its load; 0 for a virtual
	// earth.
	NodeOhm float64    `json:"node_ohm"`
	Levels  []MixLevel `json:"levels"`
}

// MixLevel is one source's share.
type MixLevel struct {
	Name string  `json:"name"`
	Ohm  float64 `json:"resistor_ohm"`
	// Gain is the node's voltage over the source's, the others at 0 V; its sign
	// is left out for a virtual earth, which inverts.
	Gain    float64 `json:"gain_ratio"`
	LevelDB float64 `json:"level_db"`
}

// Calculate returns for input i
//
//	passive node: (1/Ri)/(sum 1/Rj + 1/RL)   virtual earth: Rf/Ri
func (x Mix) Calculate() (MixResult, error) {
	if err := x.Validate(); err != nil {
		return MixResult{}, err
	}
	numerator := x.FeedbackOhm
	var result MixResult
	if x.FeedbackOhm == 0 {
		siemens := 1 / x.LoadOhm
		for _, in := range x.Inputs {
			siemens += 1 / in.Ohm
		}
		numerator = 1 / siemens
		result.NodeOhm = numerator
	}
	for _, in := range x.Inputs {
		gain := numerator / in.Ohm
		result.Levels = append(result.Levels, MixLevel{in.Name, in.Ohm, gain, decibels(gain)})
	}
	return finite(result)
}

// MixChange is what a change of resistors does to one source.
type MixChange struct {
	Name     string  `json:"name"`
	ChangeDB float64 `json:"change_db"`
}

// Change returns how much louder each source gets when the mix becomes after,
// which has the same inputs in the same order. In a passive node the sources
// whose resistors stay change as well.
func (x Mix) Change(after Mix) ([]MixChange, error) {
	was, err := x.Calculate()
	if err != nil {
		return nil, fmt.Errorf("mix before: %w", err)
	}
	is, err := after.Calculate()
	if err != nil {
		return nil, fmt.Errorf("mix after: %w", err)
	}
	if len(was.Levels) != len(is.Levels) {
		return nil, fmt.Errorf("mix: %d inputs before, %d after", len(was.Levels), len(is.Levels))
	}
	var changes []MixChange
	for i, level := range is.Levels {
		changes = append(changes, MixChange{level.Name, level.LevelDB - was.Levels[i].LevelDB})
	}
	return changes, nil
}

// Rows are the result's figures for a table.
func (r MixResult) Rows() []Row {
	var rows []Row
	for _, level := range r.Levels {
		rows = append(rows,
			Row{level.Name, level.Ohm, Ohm},
			Row{level.Name + " gain", level.Gain, Ratio},
			Row{level.Name + " level", level.LevelDB, Decibel})
	}
	if r.NodeOhm > 0 {
		rows = append(rows, Row{"node resistance", r.NodeOhm, Ohm})
	}
	return rows
}

package parts

import "math"

// Trim asks how a level that is too high is brought down by resistors. The source
// is the console's output with its own resistance, the load the receiver's.
type Trim struct {
	SourceOhm, LoadOhm float64
	// LevelV is the level now, with the load on; WantedV the level wanted, lower.
	LevelV, WantedV float64
	Series          Series
}

// Validate says what cannot be calculated with, all of it at once.
func (t Trim) Validate() error {
	var m mistakes
	m.above0("source_ohm", t.SourceOhm)
	m.above0("load_ohm", t.LoadOhm)
	m.above0("level_v", t.LevelV)
	m.above0("wanted_v", t.WantedV)
	m.add(!(t.WantedV >= t.LevelV), "wanted_v", t.WantedV, "below level_v: resistors can only lower a level")
	m.known("series", t.Series)
	return m.err()
}

// TrimResult is three ways to bring the level down.
type TrimResult struct {
	// Series is one resistor in series with the output, Shunt one across the load;
	// both change the resistance that the cable sees.
	Series TrimPart `json:"series_resistor"`
	Shunt  TrimPart `json:"shunt_resistor"`
	// Pad is a resistor across the source and one in series behind it that leave
	// the source resistance as it was, but for the rounding to preferred values.
	Pad TrimPad `json:"pad"`
}

// TrimPart is one resistor and what it gives.
type TrimPart struct {
	ExactOhm     float64 `json:"exact_ohm"`
	PreferredOhm float64 `json:"preferred_ohm"`
	// LevelV is the level with the preferred value, OutputOhm the source
	// resistance that the cable then sees.
	LevelV    float64 `json:"level_v"`
	OutputOhm float64 `json:"output_ohm"`
}

// TrimPad is a pair of resistors and what it gives.
type TrimPad struct {
	ShuntOhm       float64 `json:"shunt_ohm"`
	SeriesOhm      float64 `json:"series_ohm"`
	ShuntExactOhm  float64 `json:"shunt_exact_ohm"`
	SeriesExactOhm float64 `json:"series_exact_ohm"`
	LevelV         float64 `json:"level_v"`
	OutputOhm      float64 `json:"output_ohm"`
	MismatchOhm    float64 `json:"mismatch_ohm"`
}

// Calculate returns, with k = wanted/level and R = Rs || RL,
//
//	series: (Rs + RL)(1/k - 1)   shunt at the load: R k/(1 - k)
//	pad: shunt Rs k/(1 - k), then series Rs (1 - k)
//
// The pad's pair is the one among the neighbouring preferred values whose level
// and source resistance miss least, both as shares, squared and added.
func (t Trim) Calculate() (TrimResult, error) {
	if err := t.Validate(); err != nil {
		return TrimResult{}, err
	}
	k := t.WantedV / t.LevelV
	series := TrimPart{ExactOhm: (t.SourceOhm + t.LoadOhm) * (1/k - 1)}
	series.PreferredOhm = t.nearest(series.ExactOhm, func(ohm float64) float64 { return t.padLevel(math.Inf(1), ohm) })
	series.LevelV = t.padLevel(math.Inf(1), series.PreferredOhm)
	series.OutputOhm = t.SourceOhm + series.PreferredOhm

	shunt := TrimPart{ExactOhm: parallel(t.SourceOhm, t.LoadOhm) * k / (1 - k)}
	shunt.PreferredOhm = t.nearest(shunt.ExactOhm, func(ohm float64) float64 { return t.padLevel(ohm, 0) })
	shunt.LevelV = t.padLevel(shunt.PreferredOhm, 0)
	shunt.OutputOhm = parallel(t.SourceOhm, shunt.PreferredOhm)
	return finite(TrimResult{Series: series, Shunt: shunt, Pad: t.pad(k)})
}

// padLevel is the level with a resistor across the source and one in series
// behind it.
func (t Trim) padLevel(shuntOhm, seriesOhm float64) float64 {
	emf := t.LevelV * (t.SourceOhm + t.LoadOhm) / t.LoadOhm
	source := parallel(t.SourceOhm, shuntOhm)
	return emf * (source / t.SourceOhm) * t.LoadOhm / (source + seriesOhm + t.LoadOhm)
}

// nearest returns the neighbour of exact whose level is nearer to the one wanted.
func (t Trim) nearest(exact float64, level func(ohm float64) float64) float64 {
	below, above := t.Series.Neighbours(exact)
	if math.Abs(level(above)-t.WantedV) < math.Abs(level(below)-t.WantedV) {
		return above
	}
	return below
}

func (t Trim) pad(k float64) TrimPad {
	exact := TrimPad{ShuntExactOhm: t.SourceOhm * k / (1 - k), SeriesExactOhm: t.SourceOhm * (1 - k)}
	best, least := exact, math.Inf(1)
	for _, shunt := range both(t.Series.Neighbours(exact.ShuntExactOhm)) {
		for _, series := range both(t.Series.Neighbours(exact.SeriesExactOhm)) {
			try := exact
			try.ShuntOhm, try.SeriesOhm = shunt, series
			try.LevelV = t.padLevel(shunt, series)
			try.OutputOhm = parallel(t.SourceOhm, shunt) + series
			try.MismatchOhm = try.OutputOhm - t.SourceOhm
			miss := math.Hypot(try.LevelV/t.WantedV-1, try.MismatchOhm/t.SourceOhm)
			if miss < least {
				best, least = try, miss
			}
		}
	}
	return best
}

func both(a, b float64) [2]float64 { return [2]float64{a, b} }

// Rows are the result's figures for a table.
func (r TrimResult) Rows() []Row {
	return []Row{
		{"in series", r.Series.PreferredOhm, Ohm},
		{"  gives", r.Series.LevelV, Volt},
		{"  source then", r.Series.OutputOhm, Ohm},
		{"across the load", r.Shunt.PreferredOhm, Ohm},
		{"  gives", r.Shunt.LevelV, Volt},
		{"  source then", r.Shunt.OutputOhm, Ohm},
		{"pad: across the source", r.Pad.ShuntOhm, Ohm},
		{"pad: then in series", r.Pad.SeriesOhm, Ohm},
		{"  gives", r.Pad.LevelV, Volt},
		{"  source then", r.Pad.OutputOhm, Ohm},
	}
}

package parts

// thermalVolts is kT/q at 300 K.
const thermalVolts = 0.025852

// Follower is an NPN emitter follower as a video buffer: base driven by the
// source, collector at the supply, a resistor from emitter to ground, and a
// series resistor (75 ohm) from the emitter to the load (75 ohm).
type Follower struct {
	SupplyV float64
	// InputOffsetV is the lowest point of the signal (the sync tip) at the source,
	// above ground; InputPeakToPeakV how far the signal goes up from there.
	InputOffsetV, InputPeakToPeakV float64
	// BaseEmitterV is V_BE. With BaseEmitterAtA above 0 it holds at that emitter
	// current and follows the logarithm of the current (thermal voltage 25.852 mV,
	// 300 K); with 0 it is the same at all currents.
	BaseEmitterV, BaseEmitterAtA float64
	// CurrentGain is beta; 0 stands for no base current.
	CurrentGain float64
	// SourceOhm is the resistance that drives the base.
	SourceOhm, EmitterOhm, SeriesOhm, LoadOhm float64
	// ACCoupled puts a large capacitor before the load: the load then sees the
	// signal without its mean.
	ACCoupled bool
	// MeanShare is where the mean of the signal lies between its lowest point (0)
	// and its highest (1); it depends on the picture.
	MeanShare float64
}

// Validate says what cannot be calculated with, all of it at once.
func (f Follower) Validate() error {
	var m mistakes
	m.above0("supply_v", f.SupplyV)
	m.finite("input_offset_v", f.InputOffsetV)
	m.above0("input_peak_to_peak_v", f.InputPeakToPeakV)
	m.notBelow0("base_emitter_v", f.BaseEmitterV)
	m.notBelow0("base_emitter_at_a", f.BaseEmitterAtA)
	m.notBelow0("current_gain", f.CurrentGain)
	m.notBelow0("source_ohm", f.SourceOhm)
	m.above0("emitter_ohm", f.EmitterOhm)
	m.notBelow0("series_ohm", f.SeriesOhm)
	m.above0("load_ohm", f.LoadOhm)
	m.add(f.MeanShare >= 0 && f.MeanShare <= 1, "mean_share", f.MeanShare, "0 to 1")
	return m.err()
}

// FollowerResult is what an emitter follower does.
type FollowerResult struct {
	// OutputOffsetV is the lowest point of the signal at the load, OutputHighV the
	// highest, OutputPeakToPeakV the distance.
	OutputOffsetV     float64 `json:"output_offset_v"`
	OutputHighV       float64 `json:"output_high_v"`
	OutputPeakToPeakV float64 `json:"output_peak_to_peak_v"`
	// GainRatio is output over input, peak to peak; 0 where all of it is clipped.
	GainRatio float64 `json:"gain_ratio"`
	// EmitterOffsetV and EmitterHighV are the ends of the signal at the emitter.
	EmitterOffsetV float64 `json:"emitter_offset_v"`
	EmitterHighV   float64 `json:"emitter_high_v"`
	// CurrentLowA, CurrentMeanA and CurrentHighA are the emitter current at the
	// signal's lowest point, mean and highest point.
	CurrentLowA  float64 `json:"current_low_a"`
	CurrentMeanA float64 `json:"current_mean_a"`
	CurrentHighA float64 `json:"current_high_a"`
	// TransistorW is the transistor's dissipation at the mean, TransistorMostW the
	// most anywhere between the signal's ends; EmitterResistorW is the emitter
	// resistor's at the highest point.
	TransistorW      float64 `json:"transistor_w"`
	TransistorMostW  float64 `json:"transistor_most_w"`
	EmitterResistorW float64 `json:"emitter_resistor_w"`
	// BottomHeadroomV is how far the lowest point of the signal, less V_BE, stays
	// above the emitter voltage at which the transistor has no current left; at 0
	// and below BottomClips is true.
	BottomHeadroomV float64 `json:"bottom_headroom_v"`
	BottomClips     bool    `json:"bottom_clips"`
	// TopHeadroomV is the supply less the highest point of the signal; below 0
	// TopClips is true and the upper figures do not hold.
	TopHeadroomV float64 `json:"top_headroom_v"`
	TopClips     bool    `json:"top_clips"`
}

// Calculate solves, for the signal's lowest point, mean and highest point,
//
//	Vin = Ve + V_BE(Ie) + Rsource Ie/(beta + 1)
//	Ie = Ve/Re + (Ve - Vcap)/(Rs + RL)   Vout = (Ve - Vcap) RL/(Rs + RL)
//
// where Vcap is 0 when DC coupled and the emitter voltage at the mean when AC
// coupled. The emitter cannot go below Vcap Re/(Re + Rs + RL), where Ie is 0.
func (f Follower) Calculate() (FollowerResult, error) {
	if err := f.Validate(); err != nil {
		return FollowerResult{}, err
	}
	stage := f.stage()
	inHigh := f.InputOffsetV + f.InputPeakToPeakV
	low, high := stage.emitter(f.InputOffsetV), stage.emitter(inHigh)
	mean := stage.emitter(f.meanInput())
	r := FollowerResult{
		OutputOffsetV: stage.output(low), OutputHighV: stage.output(high),
		EmitterOffsetV: low, EmitterHighV: high,
		CurrentLowA: stage.current(low), CurrentMeanA: stage.current(mean), CurrentHighA: stage.current(high),
		TransistorW: stage.transistor(mean), TransistorMostW: stage.transistorMost(low, high),
		EmitterResistorW: high * high / f.EmitterOhm,
		BottomHeadroomV:  f.InputOffsetV - f.BaseEmitterV - stage.floor(),
		TopHeadroomV:     f.SupplyV - inHigh,
	}
	r.OutputPeakToPeakV = r.OutputHighV - r.OutputOffsetV
	r.GainRatio = r.OutputPeakToPeakV / f.InputPeakToPeakV
	r.BottomClips = r.BottomHeadroomV <= 0
	r.TopClips = r.TopHeadroomV < 0
	return finite(r)
}

func (f Follower) meanInput() float64 {
	return f.InputOffsetV + f.MeanShare*f.InputPeakToPeakV
}

// stage is the follower with its output capacitor charged. With the capacitor,
// no mean current flows into the load, so the mean is that of the unloaded stage.
func (f Follower) stage() followerStage {
	stage := followerStage{Follower: f}
	if f.ACCoupled {
		unloaded := followerStage{Follower: f, open: true}
		stage.capV = unloaded.emitter(f.meanInput())
	}
	return stage
}

// Rows are the result's figures for a table.
func (r FollowerResult) Rows() []Row {
	return []Row{
		{"output, peak to peak", r.OutputPeakToPeakV, Volt},
		{"output, lowest point", r.OutputOffsetV, Volt},
		{"output, highest point", r.OutputHighV, Volt},
		{"gain", r.GainRatio, Ratio},
		{"emitter, lowest point", r.EmitterOffsetV, Volt},
		{"emitter, highest point", r.EmitterHighV, Volt},
		{"emitter current, lowest", r.CurrentLowA, Ampere},
		{"emitter current, mean", r.CurrentMeanA, Ampere},
		{"emitter current, highest", r.CurrentHighA, Ampere},
		{"transistor, mean", r.TransistorW, Watt},
		{"transistor, at most", r.TransistorMostW, Watt},
		{"emitter resistor, at most", r.EmitterResistorW, Watt},
		{"room at the bottom", r.BottomHeadroomV, Volt},
		{"room at the top", r.TopHeadroomV, Volt},
	}
}

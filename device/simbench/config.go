package simbench

// Config is everything about one simulated bench. Quantities are in SI units,
// the unit is in the key.
type Config struct {
	// Seed starts every source of chance; the same seed gives the same noise.
	Seed        uint64             `json:"seed"`
	Units       []UnitConfig       `json:"units"`
	Instruments []InstrumentConfig `json:"instruments"`
}

// UnitConfig is one console on the bench. Its test points are named by its
// parts; the names are unique within the unit.
type UnitConfig struct {
	Asset     string            `json:"asset"`
	Console   string            `json:"console"`
	MainsHz   float64           `json:"mains_hz"`
	Reservoir ReservoirConfig   `json:"reservoir"`
	Rails     []RailConfig      `json:"rails,omitempty"`
	Composite *CompositeConfig  `json:"composite,omitempty"`
	Tones     []ToneConfig      `json:"tones,omitempty"`
	Case      TemperatureConfig `json:"case"`
	Faults    []FaultConfig     `json:"faults,omitempty"`
}

// ReservoirConfig is the capacitor behind the rectifier.
type ReservoirConfig struct {
	Name         string  `json:"name"`
	PeakV        float64 `json:"peak_v"` // rectified peak
	CapacitanceF float64 `json:"capacitance_f"`
	ESROhm       float64 `json:"esr_ohm"`
	LoadA        float64 `json:"load_a"` // drawn while the rails regulate
	HalfWave     bool    `json:"half_wave"`
	// RegulatesDownToV is where the load stops drawing a constant current after
	// power-off; below it the capacitor discharges through DeadLoadOhm.
	RegulatesDownToV float64 `json:"regulates_down_to_v"`
	DeadLoadOhm      float64 `json:"dead_load_ohm"`
	// AbsorptionRatio is the share of the capacitance that charges through the
	// dielectric with the time constant AbsorptionS; 0 for none.
	AbsorptionRatio float64 `json:"absorption_ratio"`
	AbsorptionS     float64 `json:"absorption_s"`
}

// RailConfig is one linearly regulated rail.
type RailConfig struct {
	Name     string  `json:"name"`
	NominalV float64 `json:"nominal_v"`
	LoadA    float64 `json:"load_a"`
	// SourceOhm is the load regulation: the rail is NominalV less SourceOhm LoadA.
	SourceOhm float64 `json:"source_ohm"`
	DropoutV  float64 `json:"dropout_v"`
	// RejectionDB is how far input ripple is reduced.
	RejectionDB float64 `json:"rejection_db"`
	NoiseRMSV   float64 `json:"noise_rms_v"`
	// DriftVPerS runs from the start of the bench.
	DriftVPerS float64 `json:"drift_v_per_s"`
}

// CompositeConfig is one composite video output.
type CompositeConfig struct {
	Name   string `json:"name"`
	System string `json:"system"` // "625/50" or "525/60"
	// Lines is 625, 525 (interlaced), or 312, 313, 262, 263 (not interlaced).
	Lines       int     `json:"lines"`
	LinePeriodS float64 `json:"line_period_s"` // 0: the system's
	// VerticalPulses is "full" (equalising, broad, equalising), "serrated" (broad
	// only) or "plain" (one long pulse).
	VerticalPulses string `json:"vertical_pulses"`
	// NoSetup puts 525/60 black on blanking.
	NoSetup bool `json:"no_setup"`
	// Picture is "white", "black", "staircase", "bars-75", "bars-100", "stripes"
	// or "dark".
	Picture string  `json:"picture"`
	StripeS float64 `json:"stripe_s"` // width of one stripe; 0: 0.5 us
	OutputConfig
}

// OutputConfig is the stage between the console's encoder and its socket.
type OutputConfig struct {
	Gain    float64 `json:"gain"` // 1 gives nominal levels into 75 ohm
	OffsetV float64 `json:"offset_v"`
	// SyncRatio scales the sync pulses alone; 1 is nominal.
	SyncRatio float64 `json:"sync_ratio"`
	// BurstRatio scales the burst alone; 1 is nominal, 0 is no burst.
	BurstRatio float64 `json:"burst_ratio"`
	// EdgeS is the 10 to 90 % duration of picture edges before the stage.
	EdgeS       float64 `json:"edge_s"`
	BandwidthHz float64 `json:"bandwidth_hz"` // single pole; 0: none
	// RingHz and RingRatio make the stage second order: the natural frequency and
	// the overshoot of its step as a share. RingHz 0: none.
	RingHz    float64 `json:"ring_hz"`
	RingRatio float64 `json:"ring_ratio"`
	// CouplingF is the series capacitor; 0 couples directly.
	CouplingF float64 `json:"coupling_f"`
	// LoadOhm is what the socket feeds; 0: open.
	LoadOhm   float64 `json:"load_ohm"`
	NoiseRMSV float64 `json:"noise_rms_v"`
	HumPPV    float64 `json:"hum_pp_v"`
	ToneRMSV  float64 `json:"tone_rms_v"`
	ToneHz    float64 `json:"tone_hz"`
}

// ToneConfig is an audio output with a test tone.
type ToneConfig struct {
	Name        string  `json:"name"`
	LevelRMSV   float64 `json:"level_rms_v"`
	FrequencyHz float64 `json:"frequency_hz"`
	// SecondRatio and ThirdRatio are the harmonics as shares of the tone.
	SecondRatio float64 `json:"second_ratio"`
	ThirdRatio  float64 `json:"third_ratio"`
	HumRMSV     float64 `json:"hum_rms_v"` // at twice the mains frequency
	NoiseRMSV   float64 `json:"noise_rms_v"`
	OffsetV     float64 `json:"offset_v"`
}

// TemperatureConfig is a place that warms up from Ambient by Rise.
type TemperatureConfig struct {
	Name           string  `json:"name"`
	AmbientCelsius float64 `json:"ambient_celsius"`
	RiseCelsius    float64 `json:"rise_celsius"`
	WarmUpS        float64 `json:"warm_up_s"`
}

// InstrumentConfig is one instrument.
type InstrumentConfig struct {
	Name string `json:"name"`
	Kind Kind   `json:"kind"`
	// Port is where it appears: a path at which a symbolic link to a
	// pseudo-terminal is made, or "host:port" on the loopback interface (port 0
	// picks a free one).
	Port     string `json:"port"`
	Identity string `json:"identity"` // the *IDN? answer
	Ending   string `json:"ending"`   // "lf" or "crlf"
	// Interrupts makes a message that arrives before the answer to the last one
	// discard that answer and leave -410 behind, as IEEE 488.2 has it; else
	// messages wait in the input buffer.
	Interrupts bool         `json:"interrupts"`
	Wiring     []WireConfig `json:"wiring,omitempty"`
	// Faults are turned on by themselves.
	Faults []FaultConfig `json:"faults,omitempty"`
	Meter  *MeterConfig  `json:"meter,omitempty"`
	Scope  *ScopeConfig  `json:"scope,omitempty"`
	Supply *SupplyConfig `json:"supply,omitempty"`
	Talker *TalkerConfig `json:"talker,omitempty"`
}

// Kind is a kind of instrument.
type Kind string

// The kinds.
const (
	Meter  Kind = "meter"
	Scope  Kind = "scope"
	Supply Kind = "supply"
	Talker Kind = "talker"
)

// WireConfig wires one channel to one test point of one unit.
type WireConfig struct {
	Channel   int     `json:"channel"`
	Unit      string  `json:"unit"`
	TestPoint string  `json:"test_point"`
	Probe     float64 `json:"probe"` // the probe really fitted: 1 or 10; 0 is 1
}

// MeterConfig is a meter's own nature.
type MeterConfig struct {
	IntegrationS float64 `json:"integration_s"` // after *RST; 0 answers at once
	// GainError is the share by which it reads high, NoiseRatio its noise (rms) as
	// a share of the range.
	GainError  float64 `json:"gain_error"`
	NoiseRatio float64 `json:"noise_ratio"`
}

// ScopeConfig is a scope's own nature.
type ScopeConfig struct {
	Bits int `json:"bits"` // of the converter, 8 to 16
	// NoiseRatio is the input noise (rms) as a share of the range.
	NoiseRatio float64 `json:"noise_ratio"`
}

// SupplyConfig is a supply's own nature.
type SupplyConfig struct {
	MaxV    float64 `json:"max_v"`
	MaxA    float64 `json:"max_a"`
	LoadOhm float64 `json:"load_ohm"`
	// Feeds names a unit that is powered by this output; empty for none.
	Feeds    string  `json:"feeds,omitempty"`
	OutputOn bool    `json:"output_on"` // at the start
	SetV     float64 `json:"set_v"`     // at the start
	SetA     float64 `json:"set_a"`
}

// TalkerConfig is what a talker says.
type TalkerConfig struct {
	IntervalS float64 `json:"interval_s"`
	Prefix    string  `json:"prefix"` // "RES "
	Suffix    string  `json:"suffix"` // " V"
	Decimals  int     `json:"decimals"`
	NoiseRMS  float64 `json:"noise_rms"` // in the unit that it shows
}

// FaultConfig turns a fault on AfterS seconds after the start.
type FaultConfig struct {
	AfterS float64  `json:"after_s"`
	Name   string   `json:"name"`
	Args   []string `json:"args,omitempty"`
}

package simbench

import "path/filepath"

// DemoConfig is the demonstration bench: two invented consoles, a meter, a
// scope, a thermometer that talks and a supply, with their ports in dir (or on
// the loopback interface where there are no pseudo-terminals). Unit B8-0147 is
// good; the 5 V rail of CC-0031 drifts down and leaves 4.75 V some 45 s after
// the start. Every figure is invented.
//
// The meter's channels: 101 to 105 are rail-5v, reservoir, audio-left,
// audio-right and case of B8-0147, 111 to 115 those of CC-0031. The scope's
// channels 1 and 2 are their composite outputs, 3 and 4 their reservoirs, 5 and 6
// the left and right audio output of B8-0147, 7 and 8 those of CC-0031.
func DemoConfig(dir string) Config {
	good, drifting := demoUnit("B8-0147", "Brambling 8", 50), demoUnit("CC-0031", "Corncrake II", 60)
	good.Composite = demoComposite("625/50", 312)
	drifting.Composite = demoComposite("525/60", 262)
	drifting.Rails[0].DriftVPerS = -(5.017 - 4.75) / 45
	return Config{
		Seed:  20260501,
		Units: []UnitConfig{good, drifting},
		Instruments: []InstrumentConfig{
			demoMeter(dir, good, drifting), demoScope(dir), demoThermometer(dir), demoSupply(dir),
		},
	}
}

// demoPort is the port of the demonstration's instrument of that name.
func demoPort(dir, name string) string {
	if ptySupported {
		return filepath.Join(dir, name)
	}
	return "127.0.0.1:0"
}

// demoUnit is a healthy unit without video. Its reservoir falls with a time
// constant of about 41 s once the rail has let go.
func demoUnit(asset, console string, mainsHz float64) UnitConfig {
	return UnitConfig{
		Asset: asset, Console: console, MainsHz: mainsHz,
		Reservoir: ReservoirConfig{
			Name: "reservoir", PeakV: 12, CapacitanceF: 4700e-6, ESROhm: 0.04, LoadA: 0.45,
			RegulatesDownToV: 8.31, DeadLoadOhm: 8700, AbsorptionRatio: 0.04, AbsorptionS: 15,
		},
		Rails: []RailConfig{{
			Name: "rail-5v", NominalV: 5.022, LoadA: 0.42, SourceOhm: 0.012, DropoutV: 2,
			RejectionDB: 73, NoiseRMSV: 200e-6,
		}},
		Tones: []ToneConfig{demoTone("audio-left", 0.316), demoTone("audio-right", 0.309)},
		Case:  TemperatureConfig{Name: "case", AmbientCelsius: 21, RiseCelsius: 14, WarmUpS: 900},
	}
}

func demoTone(name string, level float64) ToneConfig {
	return ToneConfig{
		Name: name, LevelRMSV: level, FrequencyHz: 1000, SecondRatio: 0.004, ThirdRatio: 0.002,
		HumRMSV: 200e-6, NoiseRMSV: 150e-6,
	}
}

// demoComposite is a healthy output: 1 % low, 12 mV of offset, 1.2 % overshoot.
func demoComposite(system string, lines int) *CompositeConfig {
	return &CompositeConfig{
		Name: "composite", System: system, Lines: lines, VerticalPulses: "serrated", Picture: "staircase",
		OutputConfig: OutputConfig{
			Gain: 0.99, OffsetV: 0.012, SyncRatio: 1, BurstRatio: 1, EdgeS: 55e-9,
			RingHz: 9e6, RingRatio: 0.012, LoadOhm: 75, NoiseRMSV: 3e-3,
		},
	}
}

func demoMeter(dir string, units ...UnitConfig) InstrumentConfig {
	var wiring []WireConfig
	for i, u := range units {
		for j, point := range []string{"rail-5v", "reservoir", "audio-left", "audio-right", "case"} {
			wiring = append(wiring, WireConfig{Channel: 101 + 10*i + j, Unit: u.Asset, TestPoint: point})
		}
	}
	return InstrumentConfig{
		Name: "meter", Kind: Meter, Port: demoPort(dir, "meter"), Identity: "Saltmarsh,M6,S60017,1.4",
		Ending: "lf", Wiring: wiring,
		Meter: &MeterConfig{IntegrationS: 0.02, GainError: 20e-6, NoiseRatio: 1e-6},
	}
}

func demoScope(dir string) InstrumentConfig {
	return InstrumentConfig{
		Name: "scope", Kind: Scope, Port: demoPort(dir, "scope"), Identity: "Saltmarsh,S2,S20044,2.0",
		Ending: "lf",
		Wiring: []WireConfig{
			{Channel: 1, Unit: "B8-0147", TestPoint: "composite", Probe: 1},
			{Channel: 2, Unit: "CC-0031", TestPoint: "composite", Probe: 1},
			{Channel: 3, Unit: "B8-0147", TestPoint: "reservoir", Probe: 10},
			{Channel: 4, Unit: "CC-0031", TestPoint: "reservoir", Probe: 10},
			{Channel: 5, Unit: "B8-0147", TestPoint: "audio-left", Probe: 1},
			{Channel: 6, Unit: "B8-0147", TestPoint: "audio-right", Probe: 1},
			{Channel: 7, Unit: "CC-0031", TestPoint: "audio-left", Probe: 1},
			{Channel: 8, Unit: "CC-0031", TestPoint: "audio-right", Probe: 1},
		},
		Scope: &ScopeConfig{Bits: 8, NoiseRatio: 0.0005},
	}
}

func demoThermometer(dir string) InstrumentConfig {
	return InstrumentConfig{
		Name: "thermometer", Kind: Talker, Port: demoPort(dir, "thermometer"), Ending: "crlf",
		Wiring: []WireConfig{{Channel: 1, Unit: "B8-0147", TestPoint: "case"}},
		Talker: &TalkerConfig{IntervalS: 0.5, Suffix: " C", Decimals: 2, NoiseRMS: 0.01},
	}
}

func demoSupply(dir string) InstrumentConfig {
	return InstrumentConfig{
		Name: "supply", Kind: Supply, Port: demoPort(dir, "supply"), Identity: "Saltmarsh,P3,S30005,1.1",
		Ending: "lf",
		Supply: &SupplyConfig{MaxV: 30, MaxA: 3, LoadOhm: 20, SetV: 9, SetA: 1, OutputOn: true},
	}
}

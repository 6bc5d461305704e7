package simbench

import (
	"fmt"
	"slices"
	"strings"
)

// unit returns the names of the unit's test points.
func (m *mistakes) unit(path string, u UnitConfig) map[string]bool {
	points := map[string]bool{}
	m.between(path+".mains_hz", u.MainsHz, 40, 70)
	m.name(path+".reservoir.name", u.Reservoir.Name, points)
	m.reservoir(path+".reservoir", u.Reservoir)
	for i, r := range u.Rails {
		at := fmt.Sprintf("%s.rails[%d]", path, i)
		m.name(at+".name", r.Name, points)
		m.between(at+".nominal_v", r.NominalV, 0.1, 100)
		m.between(at+".load_a", r.LoadA, 0, 100)
		m.between(at+".source_ohm", r.SourceOhm, 0, 100)
		m.between(at+".dropout_v", r.DropoutV, 0, 10)
		m.between(at+".rejection_db", r.RejectionDB, 0, 140)
		m.between(at+".noise_rms_v", r.NoiseRMSV, 0, 10)
		m.between(at+".drift_v_per_s", r.DriftVPerS, -10, 10)
	}
	if u.Composite != nil {
		m.name(path+".composite.name", u.Composite.Name, points)
		m.composite(path+".composite", *u.Composite)
	}
	for i, t := range u.Tones {
		at := fmt.Sprintf("%s.tones[%d]", path, i)
		m.name(at+".name", t.Name, points)
		m.between(at+".level_rms_v", t.LevelRMSV, 0, 100)
		m.between(at+".frequency_hz", t.FrequencyHz, 1, 1e6)
	}
	m.name(path+".case.name", u.Case.Name, points)
	m.between(path+".case.warm_up_s", u.Case.WarmUpS, 0.001, 1e6)
	m.faults(path, u.Faults)
	return points
}

// reservoir keeps every divisor above 0 and the knee below the peak.
func (m *mistakes) reservoir(path string, r ReservoirConfig) {
	m.between(path+".peak_v", r.PeakV, 1, 1000)
	m.between(path+".capacitance_f", r.CapacitanceF, 1e-6, 1)
	m.between(path+".esr_ohm", r.ESROhm, 0, 100)
	m.between(path+".load_a", r.LoadA, 0.001, 100)
	m.between(path+".regulates_down_to_v", r.RegulatesDownToV, 0, r.PeakV)
	m.between(path+".dead_load_ohm", r.DeadLoadOhm, 0.01, 1e9)
	m.between(path+".absorption_ratio", r.AbsorptionRatio, 0, 0.5)
	if r.AbsorptionRatio > 0 {
		m.between(path+".absorption_s", r.AbsorptionS, 0.01, 1e6)
	}
}

// composite is also asked before a fault changes a running output.
func (m *mistakes) composite(path string, c CompositeConfig) {
	m.oneOf(path+".system", c.System, "625/50", "525/60")
	if lines := []int{625, 525, 312, 313, 262, 263}; !slices.Contains(lines, c.Lines) {
		m.add(path+".lines", "%d is none of %v", c.Lines, lines)
	}
	if c.LinePeriodS != 0 {
		m.between(path+".line_period_s", c.LinePeriodS, 60e-6, 68e-6)
	}
	m.oneOf(path+".vertical_pulses", c.VerticalPulses, "full", "serrated", "plain")
	m.oneOf(path+".picture", c.Picture, pictureNames()...)
	if c.StripeS != 0 {
		m.between(path+".stripe_s", c.StripeS, 50e-9, 30e-6)
	}
	m.output(path, c.OutputConfig)
}

// output keeps to stages whose step response the table can hold: slower ones
// would not settle within it.
func (m *mistakes) output(path string, o OutputConfig) {
	m.between(path+".gain", o.Gain, 0, 10)
	m.between(path+".offset_v", o.OffsetV, -20, 20)
	m.between(path+".sync_ratio", o.SyncRatio, 0, 2)
	m.between(path+".burst_ratio", o.BurstRatio, 0, 3)
	m.between(path+".edge_s", o.EdgeS, 5e-9, 1e-6)
	if o.BandwidthHz != 0 {
		m.between(path+".bandwidth_hz", o.BandwidthHz, 0.3e6, 100e6)
	}
	if o.RingHz != 0 {
		m.between(path+".ring_hz", o.RingHz, 0.5e6, 50e6)
		m.between(path+".ring_ratio", o.RingRatio, 0.001, 0.6)
	}
	m.between(path+".coupling_f", o.CouplingF, 0, 1)
	m.between(path+".load_ohm", o.LoadOhm, 0, 1e9)
	m.between(path+".noise_rms_v", o.NoiseRMSV, 0, 10)
	m.between(path+".hum_pp_v", o.HumPPV, 0, 10)
	m.between(path+".tone_rms_v", o.ToneRMSV, 0, 10)
	m.between(path+".tone_hz", o.ToneHz, 0, 100e6)
}

// instrument checks the part that belongs to the kind and that it is there.
func (m *mistakes) instrument(path string, in InstrumentConfig) {
	m.oneOf(path+".ending", in.Ending, "lf", "crlf")
	if strings.ContainsAny(in.Identity, "\r\n;") || len(in.Identity) > 72 {
		m.add(path+".identity", "has a line end or a semicolon in it or is longer than 72 characters")
	}
	m.faults(path, in.Faults)
	switch {
	case in.Kind == Meter && in.Meter != nil:
		m.between(path+".meter.integration_s", in.Meter.IntegrationS, 0, 100)
		m.between(path+".meter.gain_error", in.Meter.GainError, -0.5, 0.5)
		m.between(path+".meter.noise_ratio", in.Meter.NoiseRatio, 0, 0.1)
	case in.Kind == Scope && in.Scope != nil:
		m.between(path+".scope.bits", float64(in.Scope.Bits), 8, 16)
		m.between(path+".scope.noise_ratio", in.Scope.NoiseRatio, 0, 0.1)
	case in.Kind == Supply && in.Supply != nil:
		m.supply(path+".supply", *in.Supply)
	case in.Kind == Talker && in.Talker != nil:
		m.between(path+".talker.interval_s", in.Talker.IntervalS, 0.001, 3600)
		m.between(path+".talker.decimals", float64(in.Talker.Decimals), 0, 12)
		m.between(path+".talker.noise_rms", in.Talker.NoiseRMS, 0, 1000)
		if len(in.Wiring) != 1 {
			m.add(path+".wiring", "a talker has exactly one")
		}
	default:
		m.add(path+".kind", "%q without its own part (meter, scope, supply, talker)", in.Kind)
	}
}

func (m *mistakes) supply(path string, s SupplyConfig) {
	m.between(path+".max_v", s.MaxV, 0.1, 1000)
	m.between(path+".max_a", s.MaxA, 0.001, 1000)
	m.between(path+".load_ohm", s.LoadOhm, 0.01, 1e9)
	m.between(path+".set_v", s.SetV, 0, s.MaxV)
	m.between(path+".set_a", s.SetA, 0, s.MaxA)
}

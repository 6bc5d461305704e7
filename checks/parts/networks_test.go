package parts

import (
	"errors"
	"math"
	"strings"
	"testing"
)

// near fails unless got is within a relative tolerance of want.
func near(t *testing.T, what string, got, want, relative float64) {
	t.Helper()
	if !(math.Abs(got-want) <= relative*math.Abs(want)) {
		t.Errorf("%s: %v, want %v (relative %v)", what, got, want, relative)
	}
}

func must[R any](t *testing.T) func(r R, err error) R {
	return func(r R, err error) R {
		t.Helper()
		if err != nil {
			t.Fatal(err)
		}
		return r
	}
}

// Half of the last printed digit of the published figures.
const (
	fourDigits  = 5e-4
	sixDigits   = 5e-6
	printedRule = 2e-6
)

func TestShuntCapacitorAgainstASinglePole(t *testing.T) {
	s := ShuntCapacitor{SourceOhm: 75, LoadOhm: 75, CapacitanceF: 820e-12, AtHz: []float64{1}}
	r := must[ShuntResult](t)(s.Calculate())
	near(t, "75 || 75", r.ResistanceOhm, 37.5, 1e-12)
	near(t, "P-20, rise x corner of a single pole", r.RiseS*r.CornerHz, 0.349699, printedRule)
	// W1 of IEEE 181 practice: tau = 10 ns, transition duration 21.972246 ns,
	// corner 15.915494 MHz.
	w1 := must[ShuntResult](t)(ShuntCapacitor{SourceOhm: 100, LoadOhm: math.Inf(1), CapacitanceF: 100e-12}.Calculate())
	near(t, "W1 corner", w1.CornerHz, 15.915494e6, 1e-7)
	near(t, "W1 transition duration", w1.RiseS, 21.972246e-9, 1e-7)
	// W6: that edge through 3.497 ns more is 22.249 ns.
	w6 := ShuntCapacitor{SourceOhm: 100, LoadOhm: math.Inf(1), CapacitanceF: 3.497e-9 / math.Log(9) / 100, EdgeRiseS: 21.972e-9}
	near(t, "W6", must[ShuntResult](t)(w6.Calculate()).EdgeRiseS, 22.249e-9, 5e-5)
	near(t, "V-40, 525/60", r.At[0].FrequencyHz, 3579545.4545, 1e-10)
	near(t, "V-40, 625/50", r.At[1].FrequencyHz, 4433618.75, 1e-12)
	if r.At[2].AttenuationDB < 0 || r.At[2].AttenuationDB > 1e-12 {
		t.Errorf("at 1 Hz %v dB, want nothing", r.At[2].AttenuationDB)
	}
	corner := must[ShuntResult](t)(ShuntCapacitor{SourceOhm: 75, LoadOhm: 75, CapacitanceF: 820e-12, AtHz: []float64{r.CornerHz}}.Calculate())
	near(t, "attenuation at the corner is 10 log10 2", corner.At[2].AttenuationDB, 10*math.Log10(2), 1e-12)
	near(t, "ratio at the corner", corner.At[2].LevelRatio, math.Sqrt2/2, 1e-12)
}

func TestShuntChoiceMeetsItsTarget(t *testing.T) {
	target := ShuntTarget{SourceOhm: 75, LoadOhm: 75, AttenuationDB: 1, AtHz: Subcarrier625Hz, Series: E12}
	c := must[ShuntChoice](t)(target.Choose())
	exact := must[ShuntResult](t)(ShuntCapacitor{SourceOhm: 75, LoadOhm: 75, CapacitanceF: c.ExactF}.Calculate())
	near(t, "exact value meets the target", exact.At[1].AttenuationDB, 1, 1e-9)
	for _, v := range E12.Between(c.ExactF/100, c.ExactF*100) {
		r := must[ShuntResult](t)(ShuntCapacitor{SourceOhm: 75, LoadOhm: 75, CapacitanceF: v}.Calculate())
		if math.Abs(r.At[1].AttenuationDB-1) < math.Abs(c.Best.At[1].AttenuationDB-1) {
			t.Errorf("%v F misses by less than %v F", v, c.Best.CapacitanceF)
		}
	}
	corner := must[ShuntChoice](t)(ShuntTarget{SourceOhm: 75, LoadOhm: math.Inf(1), CornerHz: 5e6, Series: E96}.Choose())
	near(t, "1/(2 pi 75 5 MHz)", corner.ExactF, 424.413e-12, 1e-6)
	if corner.Best.CapacitanceF != 422e-12 || corner.Other.CapacitanceF != 432e-12 {
		t.Errorf("best %v, other %v", corner.Best.CapacitanceF, corner.Other.CapacitanceF)
	}
}

func TestSeriesCapacitorV80V81A12(t *testing.T) {
	tests := []struct {
		farad, corner, droop float64
	}{
		{220e-6, 4.823, 0.384}, {470e-6, 2.258, 0.203}, {1000e-6, 1.061, 0.101},
	}
	for _, tt := range tests {
		r := must[SeriesResult](t)(SeriesCapacitor{75, 75, tt.farad, 16e-3}.Calculate())
		near(t, "V-80", r.CornerHz, tt.corner, fourDigits)
		if math.Abs(r.DroopRatio-tt.droop) > 0.0005 {
			t.Errorf("V-81: %v, want %v", r.DroopRatio, tt.droop)
		}
	}
	near(t, "A-12", must[SeriesResult](t)(SeriesCapacitor{0, 10e3, 10e-6, 0}.Calculate()).CornerHz, 1.592, fourDigits)
	near(t, "A-12", must[SeriesResult](t)(SeriesCapacitor{0, 47e3, 1e-6, 0}.Calculate()).CornerHz, 3.386, fourDigits)
}

func TestDividerV70ToV76(t *testing.T) {
	tests := []struct {
		row             string
		load, v         float64
		db, dbTolerance float64
	}{
		{"V-70", 75, 1, 0, 1e-9},
		{"V-71", 1e6, 1.99985, 6.02, 0.005},
		{"V-72", 37.5, 0.66667, -3.52, 0.005},
		{"V-73", 50, 0.8, -1.94, 0.005},
		{"V-74 low", 74.25, 0.99497, -0.0436, 0.0006},
		{"V-74 high", 75.75, 1.00498, 0.043, 0.0006},
		{"V-75 low", 71.25, 0.97436, -0.226, 0.0005},
		{"V-75 high", 78.75, 1.02439, 0.209, 0.0005},
		{"V-76", 68, 0.95105, math.NaN(), 0},
		{"V-76", 82, 1.04459, math.NaN(), 0},
		{"V-76", 100, 1.14286, math.NaN(), 0},
	}
	for _, tt := range tests {
		r := must[DividerResult](t)(Divider{TopOhm: 75, BottomOhm: tt.load, LoadOhm: math.Inf(1), InputV: 2}.Calculate())
		near(t, tt.row, r.OutputV, tt.v, sixDigits)
		if db := decibels(r.OutputV); !math.IsNaN(tt.db) && math.Abs(db-tt.db) > tt.dbTolerance {
			t.Errorf("%s: %v dB, want %v", tt.row, db, tt.db)
		}
	}
	a11 := must[DividerResult](t)(Divider{1e3, 10e3, math.Inf(1), 1}.Calculate())
	near(t, "A-11, 1 kohm into 10 kohm", a11.LevelDB, -0.8279, 1e-4)
	a11 = must[DividerResult](t)(Divider{1e3, 47e3, math.Inf(1), 1}.Calculate())
	near(t, "A-11, 1 kohm into 47 kohm", a11.LevelDB, -0.1829, 3e-4)
}

func TestDividerPairs(t *testing.T) {
	target := DividerTarget{Ratio: 0.3, LoadOhm: 10e3, InputV: 5, TotalLowOhm: 1e3, TotalHighOhm: 20e3, Series: E12, Most: 3}
	pairs := must[[]DividerResult](t)(target.Pairs())
	if len(pairs) != 3 {
		t.Fatalf("%d pairs, want 3", len(pairs))
	}
	values := E12.Between(1, 20e3)
	best := math.Inf(1)
	for _, top := range values {
		for _, bottom := range values {
			if sum := top + bottom; sum >= 1e3 && sum <= 20e3 {
				best = min(best, math.Abs(Divider{top, bottom, 10e3, 5}.ratio()/0.3-1))
			}
		}
	}
	near(t, "no pair of all is better", math.Abs(pairs[0].Ratio/0.3-1), best, 1e-6)
	none := DividerTarget{Ratio: 0.5, LoadOhm: math.Inf(1), TotalLowOhm: 7.1, TotalHighOhm: 7.2, Series: E3, Most: 1}
	if got := must[[]DividerResult](t)(none.Pairs()); len(got) != 0 {
		t.Errorf("pairs where none fits: %v", got)
	}
}

func TestTrimBringsTheLevelDown(t *testing.T) {
	trim := Trim{SourceOhm: 75, LoadOhm: 75, LevelV: 1.2, WantedV: 1, Series: E24}
	r := must[TrimResult](t)(trim.Calculate())
	near(t, "series (75+75)(1.2-1)", r.Series.ExactOhm, 30, 1e-9)
	near(t, "30 ohm is a preferred value", r.Series.LevelV, 1, 1e-9)
	near(t, "source then", r.Series.OutputOhm, 105, 1e-9)
	near(t, "shunt 37.5 k/(1-k)", r.Shunt.ExactOhm, 187.5, 1e-9)
	near(t, "the exact shunt gives the level", trim.padLevel(r.Shunt.ExactOhm, 0), 1, 1e-9)
	near(t, "pad, shunt", r.Pad.ShuntExactOhm, 375, 1e-9)
	near(t, "pad, series", r.Pad.SeriesExactOhm, 12.5, 1e-9)
	near(t, "the exact pad gives the level", trim.padLevel(375, 12.5), 1, 1e-9)
	near(t, "the pad keeps 75 ohm", r.Pad.OutputOhm, 75, 0.02)
	near(t, "pad level", r.Pad.LevelV, 1, 0.01)
	for _, wanted := range []float64{1.2, 1.3, 0, -1, math.NaN()} {
		trim.WantedV = wanted
		if _, err := trim.Calculate(); err == nil {
			t.Errorf("a trim from 1.2 V to %v V was calculated", wanted)
		}
	}
}

func TestMixA40ToA46(t *testing.T) {
	two := func(load, feedback float64) Mix {
		return Mix{Inputs: []MixInput{{"a", 47e3}, {"b", 68e3}}, LoadOhm: load, FeedbackOhm: feedback}
	}
	tests := []struct {
		row    string
		mix    Mix
		first  float64
		second float64
	}{
		{"A-40", two(0, 47e3), 0, -3.2082},
		{"A-42", two(math.Inf(1), 0), -4.5638, -7.7720},
		{"A-43", two(47e3, 0), -8.5988, -11.8071},
		{"A-44", two(10e3, 0), -16.1116, -19.3198},
		{"A-45", Mix{Inputs: []MixInput{{"a", 10e3}, {"b", 10e3}}, LoadOhm: math.Inf(1)}, -6.0206, -6.0206},
	}
	for _, tt := range tests {
		r := must[MixResult](t)(tt.mix.Calculate())
		for i, want := range []float64{tt.first, tt.second} {
			if math.Abs(r.Levels[i].LevelDB-want) > 6e-5 {
				t.Errorf("%s: %v dB, want %v", tt.row, r.Levels[i].LevelDB, want)
			}
		}
	}
	a43 := must[MixResult](t)(two(47e3, 0).Calculate())
	near(t, "A-43 gain", a43.Levels[0].Gain, 0.371585, 2e-6)
	near(t, "A-43 gain", a43.Levels[1].Gain, 0.256831, 2e-6)

	// two 5 % parts at their ends differ 0.8693 dB.
	nominal := Mix{Inputs: []MixInput{{"left", 10e3}, {"right", 10e3}}, FeedbackOhm: 10e3}
	ends := Mix{Inputs: []MixInput{{"left", 9.5e3}, {"right", 10.5e3}}, FeedbackOhm: 10e3}
	changes := must[[]MixChange](t)(nominal.Change(ends))
	near(t, "A-46", changes[0].ChangeDB-changes[1].ChangeDB, 0.8693, 1e-4)
	if _, err := nominal.Change(two(1, 0)); err != nil {
		t.Errorf("two inputs against two: %v", err)
	}
	if _, err := nominal.Change(Mix{Inputs: ends.Inputs[:1], LoadOhm: 1}); err == nil {
		t.Error("two inputs against one: no error")
	}
}

func TestReservoirW20ToW25(t *testing.T) {
	tests := []struct {
		hz                    float64
		half                  bool
		simple, better, exact float64
	}{
		{50, false, 2.127660, 1.756588, 1.739344},
		{60, false, 1.773050, 1.488914, 1.476820},
		{50, true, 4.255319, math.NaN(), 3.690406},
		{60, true, 3.546099, math.NaN(), 3.116699},
	}
	for _, tt := range tests {
		r := must[ReservoirResult](t)(Reservoir{PeakV: 12, LoadA: 1, CapacitanceF: 4700e-6, MainsHz: tt.hz, HalfWave: tt.half}.Calculate())
		near(t, "W-20", r.SimpleV, tt.simple, 3e-7)
		near(t, "W-22", r.ExactV, tt.exact, 4e-7)
		if !math.IsNaN(tt.better) {
			near(t, "W-21", r.BetterV, tt.better, 4e-7)
		}
		near(t, "W-25 mean", r.MeanV, 12-r.ExactV/2, 1e-12)
		near(t, "trough", r.TroughV, 12-r.ExactV, 1e-12)
	}
	near(t, "W-25, 1.773 V sawtooth is 0.5118 V rms", 1.773050/(2*math.Sqrt(3)), 0.5118, 1e-4)
}

func TestReservoirWithAResistiveLoadSatisfiesW23(t *testing.T) {
	r := must[ReservoirResult](t)(Reservoir{PeakV: 12, LoadOhm: 12, CapacitanceF: 4700e-6, MainsHz: 50}.Calculate())
	tc := math.Acos(1-r.ResistiveV/12) / (2 * math.Pi * 50)
	near(t, "W-23", r.ResistiveV, 12*(1-math.Exp(-(0.01-tc)/(12*4700e-6))), 1e-9)
	near(t, "trough goes with the load given", r.TroughV, 12-r.ResistiveV, 1e-12)
}

func TestReservoirRunsDry(t *testing.T) {
	r := must[ReservoirResult](t)(Reservoir{PeakV: 12, LoadA: 10, CapacitanceF: 100e-6, MainsHz: 50}.Calculate())
	if !r.RunsDry || r.ExactV != 12 || r.SimpleV != 12 || r.BetterV != 12 || r.TroughV != 0 {
		t.Errorf("10 A out of 100 uF: %+v", r)
	}
}

func TestReservoirChoiceKeepsTheRipple(t *testing.T) {
	for _, load := range []Reservoir{
		{PeakV: 12, LoadA: 1, MainsHz: 50}, {PeakV: 12, LoadOhm: 12, MainsHz: 60, HalfWave: true},
	} {
		target := ReservoirTarget{Reservoir: load, RippleV: 1, Series: E6}
		c := must[ReservoirChoice](t)(target.Choose())
		near(t, "exact capacitance gives the ripple", target.with(c.ExactF).ripple(), 1, 1e-9)
		if c.SimpleF <= c.ExactF || c.Fitted.CapacitanceF < c.ExactF || 12-c.Fitted.TroughV > 1 {
			t.Errorf("choice %+v", c)
		}
	}
}

func TestEveryMistakeIsToldAtOnce(t *testing.T) {
	nan := math.NaN()
	networks := map[string]interface{ Validate() error }{
		"source_ohm load_ohm capacitance_f edge_rise_s at_hz": ShuntCapacitor{nan, 0, -1, nan, []float64{0}},
		"source_ohm load_ohm series attenuation_db at_hz":     ShuntTarget{SourceOhm: math.Inf(1), LoadOhm: nan},
		"corner_hz": ShuntTarget{SourceOhm: 1, LoadOhm: 1, CornerHz: 1, AttenuationDB: 1, Series: E6},
		"source_ohm load_ohm capacitance_f flat_s":       SeriesCapacitor{-1, 0, nan, -1},
		"top_ohm bottom_ohm load_ohm input_v":            Divider{-1, 0, 0, math.Inf(1)},
		"ratio total_low_ohm total_high_ohm series most": DividerTarget{Ratio: 1, LoadOhm: 1},
		"source_ohm load_ohm level_v wanted_v series":    Trim{},
		"inputs load_ohm":                                                  Mix{},
		"inputs[1].ohm feedback_ohm":                                       Mix{Inputs: []MixInput{{"a", 1}, {"b", 0}}, FeedbackOhm: nan},
		"supply_v input_peak_to_peak_v emitter_ohm load_ohm":               Follower{},
		"input_offset_v base_emitter_v current_gain mean_share source_ohm": Follower{InputOffsetV: nan, BaseEmitterV: -1, CurrentGain: nan, MeanShare: 1.01, SourceOhm: -1},
		"peak_v load_a capacitance_f mains_hz":                             Reservoir{},
		"ripple_v series peak_v":                                           ReservoirTarget{RippleV: 0},
	}
	for keys, network := range networks {
		err := network.Validate()
		if err == nil {
			t.Errorf("%T: no mistake found", network)
			continue
		}
		for _, key := range strings.Fields(keys) {
			if !strings.Contains(err.Error(), key+" is") {
				t.Errorf("%T: %q is not told in %q", network, key, err)
			}
		}
		if mistake := (*MistakeError)(nil); !errors.As(err, &mistake) || mistake.Key == "" {
			t.Errorf("%T: no MistakeError in %v", network, err)
		}
	}
}

package parts

import (
	"bytes"
	"fmt"
	"math"
	"os"
	"os/exec"
	"path/filepath"
	"regexp"
	"strconv"
	"strings"
	"testing"
)

// asSimulated is how near a figure must come to the circuit simulator's.
const asSimulated = 0.01

var printedFigure = regexp.MustCompile(`(?m)^\s*([a-z_]\w*)\s*=\s*([-+0-9.eE]+)`)

// simulate runs a netlist through ngspice and returns what it prints as
// "name = figure".
func simulate(t *testing.T, netlist string) map[string]float64 {
	t.Helper()
	program, err := exec.LookPath("ngspice")
	if err != nil {
		t.Fatal("ngspice is missing: install the Debian package ngspice (apt-get install ngspice)")
	}
	file := filepath.Join(t.TempDir(), "bench.cir")
	if err := os.WriteFile(file, []byte(netlist), 0o600); err != nil {
		t.Fatal(err)
	}
	var out, trouble bytes.Buffer
	run := exec.CommandContext(t.Context(), program, "-b", file)
	run.Stdout, run.Stderr = &out, &trouble
	if err := run.Run(); err != nil {
		t.Fatalf("ngspice: %v\n%s\n%s", err, out.String(), trouble.String())
	}
	figures := map[string]float64{}
	for _, match := range printedFigure.FindAllStringSubmatch(out.String(), -1) {
		if value, err := strconv.ParseFloat(match[2], 64); err == nil {
			figures[match[1]] = value
		}
	}
	return figures
}

// figure is one printed figure; a missing one ends the test.
func figure(t *testing.T, figures map[string]float64, name string) float64 {
	t.Helper()
	value, ok := figures[name]
	if !ok {
		t.Fatalf("ngspice printed no %s, only %v", name, figures)
	}
	return value
}

func TestSimulatedShuntCapacitor(t *testing.T) {
	for _, farad := range []float64{100e-12, 330e-12, 820e-12, 2.2e-9} {
		figures := simulate(t, fmt.Sprintf(`shunt capacitor at a 75 ohm node
v1 in 0 dc 0 ac 1
rs in out 75
rl out 0 75
c1 out 0 %g
.control
ac dec 2000 10k 200meg
meas ac flat find vdb(out) at=10k
let down = vdb(out) - flat
meas ac corner when down=-3.0102999566 fall=1
meas ac at525 find down at=%.9g
meas ac at625 find down at=%.9g
quit 0
.endc
.end
`, farad, Subcarrier525Hz, Subcarrier625Hz))
		r := must[ShuntResult](t)(ShuntCapacitor{SourceOhm: 75, LoadOhm: 75, CapacitanceF: farad}.Calculate())
		near(t, "corner", r.CornerHz, figure(t, figures, "corner"), asSimulated)
		near(t, "525/60 subcarrier", -r.At[0].AttenuationDB, figure(t, figures, "at525"), asSimulated)
		near(t, "625/50 subcarrier", -r.At[1].AttenuationDB, figure(t, figures, "at625"), asSimulated)
	}
}

func TestSimulatedShuntCapacitorRise(t *testing.T) {
	figures := simulate(t, `step through 37.5 ohm and 820 pF
v1 in 0 pwl(0 0 1n 0 1.001n 2 1u 2)
rs in out 75
rl out 0 75
c1 out 0 820p
.control
tran 0.05n 400n
meas tran rise trig v(out) val=0.1 rise=1 targ v(out) val=0.9 rise=1
quit 0
.endc
.end
`)
	r := must[ShuntResult](t)(ShuntCapacitor{SourceOhm: 75, LoadOhm: 75, CapacitanceF: 820e-12}.Calculate())
	near(t, "rise time", r.RiseS, figure(t, figures, "rise"), asSimulated)
}

func TestSimulatedDivider(t *testing.T) {
	for _, d := range []Divider{{1000, 470, 10e3, 5}, {75, 75, math.Inf(1), 2}, {33, 150, 75, 1.4}} {
		load := ""
		if !math.IsInf(d.LoadOhm, 1) {
			load = fmt.Sprintf("rl out 0 %g\n", d.LoadOhm)
		}
		figures := simulate(t, fmt.Sprintf(`divider
v1 in 0 %g
rt in out %g
rb out 0 %g
%s.control
op
let tap = v(out)
let drawn = -i(v1)
print tap drawn
quit 0
.endc
.end
`, d.InputV, d.TopOhm, d.BottomOhm, load))
		r := must[DividerResult](t)(d.Calculate())
		near(t, "output", r.OutputV, figure(t, figures, "tap"), asSimulated)
		near(t, "current", r.CurrentA, figure(t, figures, "drawn"), asSimulated)
	}
}

// followerNetlist sweeps the source of a follower and prints the load voltage,
// the emitter current and the transistor's heat at the ends of the signal. An
// output capacitor is a source that holds what the capacitor is charged to.
func followerNetlist(f Follower, saturationA, capV float64) string {
	var b strings.Builder
	fmt.Fprintf(&b, `emitter follower
vcc cc 0 %g
vin in 0 %g
rg in base %g
q1 cc base em npnq
re em 0 %g
rs em coupled %g
vcap coupled out %g
rl out 0 %g
.model npnq npn(is=%g bf=%g)
.options temp=26.85 tnom=26.85
.control
`, f.SupplyV, f.InputOffsetV, math.Max(f.SourceOhm, 1e-3), f.EmitterOhm, f.SeriesOhm, capV, f.LoadOhm, saturationA, f.CurrentGain)
	ends := []struct {
		name string
		v    float64
	}{{"low", f.InputOffsetV}, {"high", f.InputOffsetV + f.InputPeakToPeakV}}
	for _, end := range ends {
		fmt.Fprintf(&b, "alter vin = %g\nop\nlet load_%s = v(out)\nprint load_%s\nlet emitter_%s = v(em)/%g + v(out)/%g\nprint emitter_%s\n",
			end.v, end.name, end.name, end.name, f.EmitterOhm, f.LoadOhm, end.name)
	}
	b.WriteString("quit 0\n.endc\n.end\n")
	return b.String()
}

func TestSimulatedFollower(t *testing.T) {
	// The transistor is the plain junction: I = is exp(V/VT), so that V_BE at
	// 10 mA follows from is and neither side has a parameter that the other lacks.
	const saturationA = 1e-14
	base := Follower{
		SupplyV: 5, InputOffsetV: 1.3, InputPeakToPeakV: 2, CurrentGain: 150,
		BaseEmitterV: thermalVolts * math.Log(10e-3/saturationA), BaseEmitterAtA: 10e-3,
		SourceOhm: 300, EmitterOhm: 330, SeriesOhm: 75, LoadOhm: 75, MeanShare: 0.4,
	}
	light := base
	light.SupplyV, light.InputOffsetV, light.EmitterOhm, light.InputPeakToPeakV = 9, 2, 1000, 1
	clipped := base
	clipped.InputOffsetV = 0.2
	capacitor := base
	capacitor.SupplyV, capacitor.InputOffsetV, capacitor.EmitterOhm, capacitor.ACCoupled = 12, 4, 150, true
	for name, f := range map[string]Follower{"usual": base, "light": light, "clipped": clipped, "capacitor": capacitor} {
		t.Run(name, func(t *testing.T) {
			r := must[FollowerResult](t)(f.Calculate())
			figures := simulate(t, followerNetlist(f, saturationA, f.stage().capV))
			low, high := figure(t, figures, "load_low"), figure(t, figures, "load_high")
			near(t, "level", r.OutputPeakToPeakV, high-low, asSimulated)
			near(t, "highest point", r.OutputHighV, high, asSimulated)
			if math.Abs(r.OutputOffsetV-low) > asSimulated*(high-low) {
				t.Errorf("offset: %v, simulated %v", r.OutputOffsetV, low)
			}
			near(t, "current", r.CurrentHighA, figure(t, figures, "emitter_high"), asSimulated)
			if clips := name == "clipped"; r.BottomClips != clips {
				t.Errorf("clips: %v, headroom %v", r.BottomClips, r.BottomHeadroomV)
			}
		})
	}
}

// With a real output capacitor the load sees the signal around 0 V.
func TestSimulatedFollowerThroughACapacitor(t *testing.T) {
	const saturationA = 1e-14
	f := Follower{
		SupplyV: 12, InputOffsetV: 3, InputPeakToPeakV: 2, CurrentGain: 150,
		BaseEmitterV: thermalVolts * math.Log(10e-3/saturationA), BaseEmitterAtA: 10e-3,
		SourceOhm: 300, EmitterOhm: 150, SeriesOhm: 75, LoadOhm: 75, ACCoupled: true, MeanShare: 0.5,
	}
	figures := simulate(t, fmt.Sprintf(`emitter follower through 100 uF
vcc cc 0 %g
vin in 0 sin(%g %g 100k)
rg in base %g
q1 cc base em npnq
re em 0 %g
rs em coupled %g
cout coupled out 100u
rl out 0 %g
.model npnq npn(is=%g bf=%g)
.options temp=26.85 tnom=26.85
.control
tran 10n 30u 10u
meas tran highest max v(out)
meas tran lowest min v(out)
quit 0
.endc
.end
`, f.SupplyV, f.meanInput(), f.InputPeakToPeakV/2, f.SourceOhm, f.EmitterOhm, f.SeriesOhm, f.LoadOhm, saturationA, f.CurrentGain))
	r := must[FollowerResult](t)(f.Calculate())
	low, high := figure(t, figures, "lowest"), figure(t, figures, "highest")
	near(t, "level", r.OutputPeakToPeakV, high-low, asSimulated)
	near(t, "lowest point", r.OutputOffsetV, low, asSimulated)
	near(t, "highest point", r.OutputHighV, high, asSimulated)
}

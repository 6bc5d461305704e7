package reservoir

import (
	"bytes"
	"fmt"
	"os"
	"os/exec"
	"path/filepath"
	"strconv"
	"strings"
	"testing"
)

// simulate runs the transient of a circuit through ngspice and returns the voltage
// at node out on an even grid from the time from on. circuit has neither a title
// nor an end.
func simulate(t *testing.T, circuit string, from, span, interval float64) (seconds, volts []float64) {
	t.Helper()
	program, err := exec.LookPath("ngspice")
	if err != nil {
		t.Fatal("ngspice is missing: install the Debian package ngspice (apt-get install ngspice)")
	}
	folder := t.TempDir()
	netlist := fmt.Sprintf(`transient at the bench
%s
.options reltol=1e-5 abstol=1e-9 vntol=1e-7
.control
tran %g %g %g %g uic
linearize v(out)
set wr_singlescale
set numdgt=9
wrdata out.data v(out)
quit 0
.endc
.end
`, circuit, interval, from+span, from, interval/2)
	file := filepath.Join(folder, "bench.cir")
	if err := os.WriteFile(file, []byte(netlist), 0o600); err != nil {
		t.Fatal(err)
	}
	var trouble bytes.Buffer
	run := exec.CommandContext(t.Context(), program, "-b", file)
	run.Dir = folder // ngspice writes file names in small letters
	run.Stdout, run.Stderr = &trouble, &trouble
	if err := run.Run(); err != nil {
		t.Fatalf("ngspice: %v\n%s", err, trouble.String())
	}
	text, err := os.ReadFile(filepath.Join(folder, "out.data"))
	if err != nil {
		t.Fatalf("%v\n%s", err, trouble.String())
	}
	for line := range strings.Lines(string(text)) {
		var cells [2]float64
		fields := strings.Fields(line)
		if len(fields) != 2 {
			t.Fatalf("ngspice wrote %q", line)
		}
		for i, field := range fields {
			if cells[i], err = strconv.ParseFloat(field, 64); err != nil {
				t.Fatal(err)
			}
		}
		seconds, volts = append(seconds, cells[0]), append(volts, cells[1])
	}
	if len(volts) < 100 {
		t.Fatalf("ngspice wrote %d points\n%s", len(volts), trouble.String())
	}
	return seconds, volts
}

// The branch behind the plates is the usual model of dielectric absorption: a share
// of the capacitance behind a resistance. tau and capacitance are those of the
// netlist, within 1 % and 3 %.
func TestSimulatedDischargeWithAbsorption(t *testing.T) {
	const farads, load = 4700e-6, 8700.0
	for _, row := range []struct{ share, seconds float64 }{
		{0, 1}, {0.02, 5}, {0.04, 15}, {0.04, 100}, {0.06, 400}, {0.06, 30}, {0.04, 2000},
	} {
		t.Run(fmt.Sprintf("%g %% behind %g s", 100*row.share, row.seconds), func(t *testing.T) {
			branch := ""
			if row.share > 0 {
				branch = fmt.Sprintf("cd da 0 %g ic=12\nrd out da %g\n", row.share*farads, row.seconds/(row.share*farads))
			}
			circuit := fmt.Sprintf("c1 out 0 %g ic=12\nr1 out 0 %g\n%s", farads, load, branch)
			seconds, volts := simulate(t, circuit, 0, 160, 0.2)
			d := analysed(t, seconds, volts, DischargeOptions{LoadOhms: load, BelowVolts: 2})
			tau := farads * load
			near(t, "tau", d.Tau.Value, tau, 0.01)
			d = analysed(t, seconds, volts, DischargeOptions{LoadOhms: load, BelowVolts: 2, MeterOhms: 1e12})
			near(t, "capacitance", d.Capacitance.Value, farads, 0.03)
			t.Log(d.Tau, d.Floor, d.Findings)
		})
	}
}

// A quick discharge through 10 ohm, then open: the branch gives charge back.
func TestSimulatedRebound(t *testing.T) {
	circuit := `c1 out 0 4700u ic=12
cd da 0 188u ic=12
rd out da 79.8k
r1 out 0 1meg
s1 out x sw 0 closed
r2 x 0 10
vsw sw 0 pwl(0 1 0.5 1 0.501 0 1000 0)
.model closed sw(vt=0.5 ron=0.001 roff=1e12)
`
	seconds, volts := simulate(t, circuit, 0, 60, 0.01)
	d := analysed(t, seconds, volts, DischargeOptions{LoadOhms: 10})
	near(t, "tau", d.Tau.Value, 0.047, 0.01)
	near(t, "capacitance", d.Capacitance.Value, 4700e-6, 0.03)
	if !has(d.Findings, codeComesBack) || d.Rebound.Value < 0.3 || d.Rebound.Value > 0.5 {
		t.Errorf("rebound %v: %+v", d.Rebound, d.Findings)
	}
}

// A console: constant current until the regulator drops out, then a dead load.
func TestSimulatedDropout(t *testing.T) {
	circuit := `c1 out 0 4700u ic=11.4
cd da 0 188u ic=11.4
rd out da 79.8k
r1 out 0 8700
b1 out 0 i=0.0009*min(1,max(0,(v(out)-8.31)*50))
`
	seconds, volts := simulate(t, circuit, 0, 160, 0.2)
	d := analysed(t, seconds, volts, DischargeOptions{LoadOhms: 8700, BelowVolts: 2, MeterOhms: 1e12})
	t.Log(d.Tau, d.KneeSeconds, d.Findings)
	// The dielectric lags behind the straight part, so that it feeds the plates from
	// the knee on and the time constant holds some of the absorption (4 % here).
	near(t, "tau", d.Tau.Value, 40.89, 0.06)
}

// Dielectric absorption makes the half-time over-read the capacitance: the branch
// behind 400 ms feeds the plates while they fall. The fit reads the plates.
func TestHalfTimeOverReadsWithAbsorption(t *testing.T) {
	const farads, load = 1000e-6, 1000.0
	circuit := fmt.Sprintf("c1 out 0 %g ic=12\nr1 out 0 %g\ncd da 0 %g ic=12\nrd out da %g\n", farads, load, 0.06*farads, 0.4/(0.06*farads))
	seconds, volts := simulate(t, circuit, 0, 5, 5e-3)
	half := 0
	for volts[half] > 6 {
		half++
	}
	if read := CapacitanceFromDecay(12, volts[half], seconds[half], load, 1e12); read < 1.02*farads {
		t.Errorf("the half-time reads %g F: the test shows nothing", read)
	}
	d := analysed(t, seconds, volts, DischargeOptions{LoadOhms: load, MeterOhms: 1e12})
	near(t, "capacitance", d.Capacitance.Value, farads, 0.01)
	if !has(d.Findings, codeAbsorption) {
		t.Errorf("absorption is not told: %+v", d.Findings)
	}
}

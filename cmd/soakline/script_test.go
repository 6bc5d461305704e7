package main

import (
	"fmt"
	"math"
	"os"
	"os/user"
	"path/filepath"
	"strconv"
	"strings"
	"testing"

	"github.com/rogpeppe/go-internal/testscript"
)

// TestScripts types each command as its user does; testdata/script holds what is
// typed and what must come back.
func TestScripts(t *testing.T) {
	program := binary(t)
	testscript.Run(t, testscript.Params{
		Dir: filepath.Join("testdata", "script"),
		Setup: func(env *testscript.Env) error {
			env.Setenv("PATH", filepath.Dir(program)+string(os.PathListSeparator)+env.Getenv("PATH"))
			env.Setenv("LC_ALL", "C")
			env.Setenv("TZ", "UTC")
			for name, content := range map[string][]byte{
				"line.csv": []byte(stairs(1.2, 0.03)), "tone.wav": toneWAV(), "steps.wav": stepsWAV(), "cut.wav": toneWAV()[:44+50*4],
				"fall.csv": []byte(wandering(-0.012)), "still.csv": []byte(wandering(0)),
			} {
				if err := os.WriteFile(filepath.Join(env.WorkDir, name), content, 0o600); err != nil {
					return err
				}
			}
			return nil
		},
		Cmds: map[string]func(*testscript.TestScript, bool, []string){"exits": exits, "locked": locked, "instruments": instruments, "seated": seated},
	})
}

// exits runs soakline and demands an exit code: exits 2 check bench.yaml.
func exits(ts *testscript.TestScript, _ bool, args []string) {
	want, err := strconv.Atoi(args[0])
	ts.Check(err)
	err = ts.Exec("soakline", args[1:]...)
	if got := exitCode(err); got != want {
		ts.Fatalf("soakline %s ended with %d, want %d", strings.Join(args[1:], " "), got, want)
	}
}

// locked makes a folder that this user cannot write to. Root can write anywhere,
// so for root the folder is one of the system's that has no room for files.
func locked(ts *testscript.TestScript, _ bool, args []string) {
	who, err := user.Current()
	ts.Check(err)
	if who.Uid == "0" {
		ts.Check(os.Symlink("/proc/self/fdinfo", ts.MkAbs(args[0])))
		return
	}
	ts.Check(os.Mkdir(ts.MkAbs(args[0]), 0o500))
}

// wandering is eight hours of a 5 V rail's readings, some four seconds apart, with
// 1 mV of a deterministic noise, that move by so many volts an hour after two hours.
func wandering(perHour float64) string {
	var text strings.Builder
	text.WriteString("time_s,value\n")
	at, state := 0.0, uint32(1)
	for at < 8*3600 {
		state = state*1664525 + 1013904223 // a linear congruence, common practice
		noise := float64(state>>8)/(1<<24) - 0.5
		fmt.Fprintf(&text, "%.3f,%.4f\n", at, 5+perHour*max(0, at/3600-2)+0.0035*noise)
		at += 4 + 3*noise
	}
	return text.String()
}

// stairs is a record of three lines of 625/50 with six grey steps (levels and
// timing V-02, V-03, V-05, V-20, V-23 to V-29, V-40; ITU-R BT.470-6) as a scope
// saves it, with a gain and an offset.
func stairs(gain, offset float64) string {
	const rate, line = 50e6, 64e-6
	var text strings.Builder
	text.WriteString("Saltmarsh S2\nCoupling,DC\nTime (s),Volts (V)\n")
	level := 0.0
	for i := range 10000 {
		at := float64(i)/rate + 40e-6
		x, want := math.Mod(at, line), 0.0
		switch {
		case x < 4.7e-6:
			want = -0.3
		case x >= 5.6e-6 && x < 7.85e-6:
			want = 0.15 * math.Sin(2*math.Pi*4433618.75*at)
		case x >= 10.5e-6 && x < line-1.65e-6:
			want = 0.7 * math.Round(5-(x-10.5e-6)/51.85e-6*6+0.5) / 5
		}
		level += (1 - math.Exp(-1/(rate*35e-9))) * (want - level)
		// A triangle of 3 mV stands for noise, so that the file is always the same.
		ripple := 0.003 * (math.Abs(math.Mod(float64(i)*0.7320508, 4)-2) - 1)
		fmt.Fprintf(&text, "%.9e,%.4f\n", float64(i)/rate, math.Round((gain*level+offset+ripple)/0.008)*0.008)
	}
	return text.String()
}

//go:build unix

package device_test

import (
	"bufio"
	"encoding/json"
	"fmt"
	"os"
	"os/exec"
	"path/filepath"
	"syscall"
	"testing"
	"time"

	"soakline/device"
	"soakline/device/devicetest"
)

// startChild runs the simulated bench in a process of its own.
func startChild(b *testing.B, dir string) {
	b.Helper()
	self, err := os.Executable()
	if err != nil {
		b.Fatal(err)
	}
	child := exec.Command(self, "-test.run=^$")
	child.Env = append(os.Environ(), simulatorEnv+"="+dir)
	child.Stderr = os.Stderr
	stdin, err := child.StdinPipe()
	if err != nil {
		b.Fatal(err)
	}
	stdout, err := child.StdoutPipe()
	if err != nil {
		b.Fatal(err)
	}
	if err := child.Start(); err != nil {
		b.Fatal(err)
	}
	b.Cleanup(func() {
		if err := stdin.Close(); err != nil {
			b.Error(err)
		}
		if err := child.Wait(); err != nil {
			b.Error(err)
		}
	})
	var ready struct{ Ports map[string]string }
	line, err := bufio.NewReader(stdout).ReadBytes('\n')
	if err == nil {
		err = json.Unmarshal(line, &ready)
	}
	if err != nil {
		b.Fatalf("the simulated bench did not start: %v", err)
	}
}

// discard counts readings and keeps nothing.
type discard struct {
	readings chan struct{}
	bad      func(string)
}

func (d discard) TakeReading(string, string, device.Reading) { d.readings <- struct{}{} }
func (d discard) TakeCapture(string, string, device.Capture) {}
func (d discard) TakeEvent(e device.Event) {
	if e.Kind != device.Opened {
		d.bad(e.Text)
	}
}

func cpuTime(b *testing.B) time.Duration {
	var usage syscall.Rusage
	if err := syscall.Getrusage(syscall.RUSAGE_SELF, &usage); err != nil {
		b.Fatal(err)
	}
	return time.Duration(usage.Utime.Nano() + usage.Stime.Nano())
}

// keepAll keeps n simulated meters and returns their readings.
func keepAll(b *testing.B, dir string, n int, every time.Duration) chan struct{} {
	sink := discard{readings: make(chan struct{}, 4096), bad: func(text string) { b.Error(text) }}
	for i := range n {
		link := simulatedLink(filepath.Join(dir, fmt.Sprintf("meter%d", i)))
		link.Commands.ErrorCheck.Every = 30 * time.Second
		keeper := device.NewKeeper(link, sink)
		keeper.SetWants([]device.Want{{Channel: "101", Measure: device.DCVoltage, Every: every}})
		devicetest.Start(b, keeper)
	}
	for range n {
		<-sink.readings // all are open
	}
	return sink.readings
}

// BenchmarkSixteenInstruments reads 16 instruments 10 times a second each and
// reports how much of one core that takes this process.
func BenchmarkSixteenInstruments(b *testing.B) {
	dir := b.TempDir()
	startChild(b, dir)
	readings := keepAll(b, dir, sixteen, 100*time.Millisecond)
	const aSecond = sixteen * 10
	began, used := time.Now(), cpuTime(b)
	for b.Loop() {
		for range aSecond {
			<-readings
		}
	}
	took := time.Since(began)
	b.ReportMetric(100*float64(cpuTime(b)-used)/float64(took), "%core")
	b.ReportMetric(float64(b.N*aSecond)/took.Seconds(), "readings/s")
}

// BenchmarkAtItsOwnSpeed reads one instrument as fast as it answers.
func BenchmarkAtItsOwnSpeed(b *testing.B) {
	dir := b.TempDir()
	startChild(b, dir)
	readings := keepAll(b, dir, 1, 0)
	began, used := time.Now(), cpuTime(b)
	for b.Loop() {
		<-readings
	}
	took := time.Since(began)
	b.ReportMetric(float64(cpuTime(b)-used)/float64(b.N), "cpu-ns/reading")
	b.ReportMetric(float64(b.N)/took.Seconds(), "readings/s")
}

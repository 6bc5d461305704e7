package main

import (
	"bufio"
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"os"
	"os/exec"
	"time"
)

// simulated is a simulated bench in a child process.
type simulated struct {
	// Ports says where each instrument is.
	Ports map[string]string `json:"ports"`

	child *exec.Cmd
	stdin io.WriteCloser
}

// simulatedPatience is how long the child may take to be ready, and to end.
const simulatedPatience = 10 * time.Second

// startSimulated starts the demo's bench as a child; stop ends it.
func startSimulated(ctx context.Context, dir string, stderr io.Writer) (*simulated, error) {
	self, err := os.Executable()
	if err != nil {
		return nil, fmt.Errorf("start the simulated bench: %w", err)
	}
	s := &simulated{child: exec.CommandContext(ctx, self, "simulate", "--demo", dir)}
	s.child.Stderr = stderr
	// Ctrl-C at the terminal is for the parent, which then ends the child's input.
	detach(s.child)
	s.child.Cancel = func() error { return s.stdin.Close() }
	s.child.WaitDelay = simulatedPatience
	if s.stdin, err = s.child.StdinPipe(); err != nil {
		return nil, fmt.Errorf("start the simulated bench: %w", err)
	}
	stdout, err := s.child.StdoutPipe()
	if err != nil {
		return nil, fmt.Errorf("start the simulated bench: %w", err)
	}
	if err := s.child.Start(); err != nil {
		return nil, fmt.Errorf("start the simulated bench: %w", err)
	}
	line, err := bufio.NewReader(stdout).ReadBytes('\n')
	if err == nil {
		err = json.Unmarshal(line, s)
	}
	if err != nil {
		return nil, errors.Join(fmt.Errorf("the simulated bench did not say where its ports are: %w", err), s.stop())
	}
	return s, nil
}

// empty switches a unit off and puts a resistor across its reservoir capacitor.
func (s *simulated) empty(unit string) error {
	if _, err := fmt.Fprintf(s.stdin, "fault %s power off\nfault %s clip 47 3s\n", unit, unit); err != nil {
		return fmt.Errorf("switch the simulated unit %s off: %w", unit, err)
	}
	return nil
}

// stop ends the child and waits for it.
func (s *simulated) stop() error {
	if err := s.stdin.Close(); err != nil && !errors.Is(err, os.ErrClosed) {
		return err
	}
	return s.child.Wait()
}

package simbench

import (
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"sync"
	"time"
)

// Serve runs a bench for a parent process: one JSON line {"ports":{…}} on stdout
// when every port can be opened, then control lines from stdin until its end or
// until ctx ends. It returns when everything is taken away.
func Serve(ctx context.Context, c Config, stdin io.Reader, stdout io.Writer) error {
	b, err := New(c)
	if err != nil {
		return err
	}
	ctx, cancel := context.WithCancel(ctx)
	defer cancel()
	var run error
	var bench sync.WaitGroup
	bench.Go(func() {
		run = b.Run(ctx)
		cancel()
	})
	var control error
	select {
	case <-b.Ready():
		if control = announce(stdout, b.Ports()); control == nil {
			control = b.controlUntil(ctx, stdin, stdout)
		}
	case <-ctx.Done():
	}
	cancel()
	bench.Wait()
	return errors.Join(run, control)
}

// controlUntil is Control that also ends with ctx. A process's own standard input
// cannot be closed under a waiting read: that read is left to the end of the
// process, since nothing more is done with what it brings.
func (b *Bench) controlUntil(ctx context.Context, stdin io.Reader, stdout io.Writer) error {
	ended := make(chan error, 1)
	go func() { ended <- b.Control(ctx, stdin, stdout) }()
	select {
	case err := <-ended:
		return err
	case <-ctx.Done():
	}
	grace := time.NewTimer(100 * time.Millisecond)
	defer grace.Stop()
	select {
	case err := <-ended:
		return err
	case <-grace.C:
		return nil
	}
}

// announce writes the one line that a parent waits for.
func announce(w io.Writer, ports map[string]string) error {
	line, err := json.Marshal(map[string]any{"ports": ports})
	if err != nil {
		return fmt.Errorf("naming the ports: %w", err)
	}
	if _, err := fmt.Fprintf(w, "%s\n", line); err != nil {
		return fmt.Errorf("naming the ports: %w", err)
	}
	return nil
}

package simbench

import (
	"cmp"
	"context"
	"errors"
	"fmt"
	"slices"
	"sync"
	"time"
)

// Bench is a simulated bench. New starts nothing; Run does everything.
type Bench struct {
	config      Config
	units       map[string]*unit
	instruments map[string]*instrument
	ready       chan struct{}

	mu    sync.Mutex
	start time.Time
}

// New builds a bench; the configuration's mistakes are its error.
func New(c Config) (*Bench, error) {
	if err := c.Validate(); err != nil {
		return nil, err
	}
	b := &Bench{
		config: c, ready: make(chan struct{}),
		units: map[string]*unit{}, instruments: map[string]*instrument{},
	}
	for _, u := range c.Units {
		b.units[u.Asset] = newUnit(u, c.Seed)
	}
	for _, in := range c.Instruments {
		b.instruments[in.Name] = b.instrument(in)
	}
	return b, nil
}

// instrument builds one instrument, wired but not plugged in. A meter counts mains
// periods of the unit it is wired to first.
func (b *Bench) instrument(c InstrumentConfig) *instrument {
	in := &instrument{
		config: c, now: b.now, port: newPort(c.Name, c.Port), chance: newChance(b.config.Seed, c.Name),
		faults: &faults{on: map[string]*extent{}, factor: 1, number: "plus"},
		wires:  map[int]*wire{}, ending: "\n", status: status{event: bitPowerOn},
	}
	if c.Ending == "crlf" {
		in.ending = "\r\n"
	}
	mainsHz := 50.0
	for i, w := range c.Wiring {
		to := &wire{unit: b.units[w.Unit], name: w.TestPoint, probe: w.Probe}
		if to.probe == 0 {
			to.probe = 1
		}
		in.wires[w.Channel] = to
		if i == 0 {
			mainsHz = to.unit.config.MainsHz
		}
	}
	switch c.Kind {
	case Meter:
		in.machine = newMeter(in, mainsHz)
	case Scope:
		in.machine = newScope(in)
	case Supply:
		in.machine = newSupply(in, b.units[c.Supply.Feeds])
	case Talker:
		return in
	}
	commonCommands(&in.language)
	in.machine.commands(&in.language)
	return in
}

// now is the bench's clock: seconds since Run, monotonic. Before Run it is 0.
func (b *Bench) now() float64 {
	b.mu.Lock()
	defer b.mu.Unlock()
	if b.start.IsZero() {
		return 0
	}
	return time.Since(b.start).Seconds()
}

// Run plugs everything in, closes Ready, and serves until ctx ends; then it takes
// every port and link away and returns. It is called once. The error is nil when
// ctx has ended it.
func (b *Bench) Run(ctx context.Context) error {
	b.mu.Lock()
	b.start = time.Now()
	b.mu.Unlock()
	if err := b.plugIn(); err != nil {
		return err
	}
	close(b.ready)
	ctx, cancel := context.WithCancel(ctx)
	defer cancel()
	var all sync.WaitGroup
	ended := make(chan error, len(b.instruments)+1)
	for _, in := range b.instruments {
		all.Go(func() {
			talk := in.serve
			if in.machine == nil {
				talk = in.talk
			}
			if err := in.port.run(ctx, talk); err != nil {
				ended <- err
				cancel()
			}
		})
	}
	all.Go(func() {
		if err := b.schedule(ctx); err != nil {
			ended <- err
			cancel()
		}
	})
	all.Wait()
	close(ended)
	var errs []error
	for err := range ended {
		errs = append(errs, err)
	}
	return errors.Join(errs...)
}

// plugIn makes every instrument reachable, or none.
func (b *Bench) plugIn() error {
	var done []*instrument
	for _, c := range b.config.Instruments {
		in := b.instruments[c.Name]
		if err := in.port.plugIn(); err != nil {
			errs := []error{err}
			for _, d := range done {
				errs = append(errs, d.port.shut())
			}
			return errors.Join(errs...)
		}
		done = append(done, in)
	}
	return nil
}

// Ready is closed when every port can be opened.
func (b *Bench) Ready() <-chan struct{} { return b.ready }

// Powered tells whether a unit is powered now; false if there is none of that asset
// number.
func (b *Bench) Powered(asset string) bool {
	u := b.units[asset]
	if u == nil {
		return false
	}
	u.mu.Lock()
	defer u.mu.Unlock()
	return u.reservoir.powered(b.now())
}

// Ports tells what a reader opens for each instrument: a path, or
// "tcp://host:port". One that is unplugged is left out.
func (b *Bench) Ports() map[string]string {
	ports := map[string]string{}
	for name, in := range b.instruments {
		if a := in.port.address(); a != "" {
			ports[name] = a
		}
	}
	return ports
}

// targets are the names that a fault can be turned on for.
func (b *Bench) targets() []string {
	var names []string
	for _, in := range b.config.Instruments {
		names = append(names, in.Name)
	}
	for _, u := range b.config.Units {
		names = append(names, u.Asset)
	}
	return names
}

// schedule turns on the configured faults, each at its time.
func (b *Bench) schedule(ctx context.Context) error {
	type entry struct {
		FaultConfig
		target string
	}
	var all []entry
	for _, in := range b.config.Instruments {
		for _, f := range in.Faults {
			all = append(all, entry{f, in.Name})
		}
	}
	for _, u := range b.config.Units {
		for _, f := range u.Faults {
			all = append(all, entry{f, u.Asset})
		}
	}
	slices.SortStableFunc(all, func(a, b entry) int { return cmp.Compare(a.AfterS, b.AfterS) })
	for _, e := range all {
		timer := time.NewTimer(time.Duration((e.AfterS - b.now()) * float64(time.Second)))
		select {
		case <-ctx.Done():
			timer.Stop()
			return nil
		case <-timer.C:
		}
		if err := b.Fault(e.target, e.Name, e.Args...); err != nil {
			return fmt.Errorf("scheduled after %g s: %w", e.AfterS, err)
		}
	}
	return nil
}

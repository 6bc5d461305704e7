package simbench

import (
	"context"
	"errors"
	"fmt"
	"io"
	"sync"
	"time"
)

// port is an instrument's place: plugged in, pulled, plugged in again perhaps
// elsewhere. pull is called from outside, all else by the instrument's goroutine.
type port struct {
	name string

	mu     sync.Mutex
	link   link
	back   time.Time // when it is plugged in again, if link is nil
	next   string    // where
	pulled chan struct{}
}

func newPort(name, where string) *port {
	return &port{name: name, next: where, pulled: make(chan struct{})}
}

var errPulled = errors.New("unplugged already")

// plugIn makes the port reachable.
func (p *port) plugIn() error {
	p.mu.Lock()
	defer p.mu.Unlock()
	l, err := insert(p.next)
	if err != nil {
		return fmt.Errorf("instrument %s: %w", p.name, err)
	}
	p.link, p.pulled = l, make(chan struct{})
	if isAddress(p.next) {
		p.next = l.address()[len("tcp://"):]
	}
	return nil
}

// pull unplugs for a time.
func (p *port) pull(d time.Duration, next string) error {
	p.mu.Lock()
	defer p.mu.Unlock()
	if p.link == nil {
		return errPulled
	}
	p.back, p.next = time.Now().Add(d), next
	err := p.link.close()
	p.link = nil
	close(p.pulled)
	return err
}

// shut closes the port for good.
func (p *port) shut() error {
	p.mu.Lock()
	defer p.mu.Unlock()
	if p.link == nil {
		return nil
	}
	err := p.link.close()
	p.link = nil
	return err
}

// where is the configured or present place, without a scheme.
func (p *port) where() string {
	p.mu.Lock()
	defer p.mu.Unlock()
	return p.next
}

// address is what a reader opens; empty while it is unplugged.
func (p *port) address() string {
	p.mu.Lock()
	defer p.mu.Unlock()
	if p.link == nil {
		return ""
	}
	return p.link.address()
}

// mayBe tells what is wrong with a place to come back under.
func (p *port) mayBe(where string) error {
	var m mistakes
	m.port("port", where, map[string]bool{})
	return errors.Join(m.found...)
}

// handler talks over one connection until it ends.
type handler func(ctx context.Context, conn io.ReadWriter, incoming <-chan message) error

// run serves whoever connects until ctx ends; a pulled port waits and is plugged
// in again. The port must be plugged in.
func (p *port) run(ctx context.Context, talk handler) error {
	for {
		p.plugged(ctx, talk)
		if ctx.Err() != nil {
			return p.shut()
		}
		if err := p.away(ctx); err != nil {
			return err
		}
	}
}

// away waits until it is time and plugs in.
func (p *port) away(ctx context.Context) error {
	p.mu.Lock()
	timer := time.NewTimer(time.Until(p.back))
	p.mu.Unlock()
	defer timer.Stop()
	select {
	case <-ctx.Done():
		return nil
	case <-timer.C:
		return p.plugIn()
	}
}

// plugged serves connections until the port is pulled or ctx ends. How a single
// connection ended is no matter: the other side may leave as it likes.
func (p *port) plugged(ctx context.Context, talk handler) {
	p.mu.Lock()
	l, pulled := p.link, p.pulled
	p.mu.Unlock()
	if l == nil {
		return
	}
	ctx, cancel := context.WithCancel(ctx)
	defer cancel()
	var watch sync.WaitGroup
	watch.Go(func() {
		select {
		case <-pulled:
			cancel()
		case <-ctx.Done():
			_ = p.shut() // run reports what matters; here it only frees accept
		}
	})
	for ctx.Err() == nil {
		conn, err := l.accept(ctx)
		if err != nil {
			break
		}
		converse(ctx, conn, talk)
	}
	cancel()
	watch.Wait()
}

package simbench

import (
	"context"
	"errors"
	"fmt"
	"io"
	"math/rand/v2"
	"strings"
	"time"
)

// errInterrupted ends a command because a new message came before its answer.
var errInterrupted = errors.New("query interrupted")

// machine is what makes an instrument a meter, a scope or a supply.
type machine interface {
	// commands adds what the machine understands beyond the common commands.
	commands(*commands)
	// reset is *RST.
	reset()
}

// instrument is one simulated instrument: a port, a language and faults. All of
// it but faults and port belongs to the goroutine that serves the port.
type instrument struct {
	config   InstrumentConfig
	now      func() float64
	port     *port
	faults   *faults
	chance   *rand.Rand
	wires    map[int]*wire
	machine  machine
	language commands
	ending   string

	status
	incoming <-chan message
	waiting  *message // came while a query was being answered
	late     []byte   // an answer held back
	skipped  int      // lines that a slow talker has left out
}

// message is one program message without its end, or what was wrong with it.
type message struct {
	text string
	err  error
}

// serve answers what comes over conn until it closes or ctx ends.
func (in *instrument) serve(ctx context.Context, conn io.ReadWriter, incoming <-chan message) error {
	in.incoming = incoming
	in.waiting = nil
	for {
		m, ok := in.next(ctx)
		if !ok {
			return ctx.Err()
		}
		answer := in.handle(ctx, m)
		if err := in.send(conn, answer); err != nil {
			return fmt.Errorf("answering on %s: %w", in.config.Name, err)
		}
	}
}

// next is the message that interrupted the last query, or else the next to come;
// false when there will be none.
func (in *instrument) next(ctx context.Context) (message, bool) {
	if m := in.waiting; m != nil {
		in.waiting = nil
		return *m, true
	}
	select {
	case m, ok := <-in.incoming:
		return m, ok
	case <-ctx.Done():
		return message{}, false
	}
}

// handle carries out one program message and returns its answer without the end.
func (in *instrument) handle(ctx context.Context, m message) []byte {
	if in.faults.take("silence", in.now()) {
		return nil
	}
	for _, e := range in.faults.takeQueued() {
		in.push(e)
	}
	if m.err != nil {
		in.push(m.err)
		return nil
	}
	if in.faults.active("wrong-speed", in.now()) {
		in.push(failure(-362, ""))
		return []byte(m.text) // send makes noise of it
	}
	var answers []string
	var path []string
	for _, text := range split(m.text, ';') {
		if strings.TrimFunc(text, white) == "" {
			continue
		}
		answer, next, err := in.unit(ctx, text, path)
		path = next
		if errors.Is(err, errInterrupted) {
			if ctx.Err() == nil { // a pulled plug interrupts too, and is no error of a query
				in.push(failure(-410, ""))
			}
			return nil
		}
		if err != nil {
			in.push(err)
			// What follows a command error in the same message is not carried out.
			break
		}
		if answer != nil {
			answers = append(answers, string(answer))
			in.available = true
		}
	}
	in.available = false
	return []byte(strings.Join(answers, ";"))
}

// unit carries out one message unit.
func (in *instrument) unit(ctx context.Context, text string, path []string) (answer []byte, next []string, err error) {
	head, next, args, query, err := parseUnit(text, path)
	if err != nil {
		return nil, next, err
	}
	cmd, suffixes, err := in.language.find(head, query)
	if err != nil {
		return nil, next, err
	}
	c := &call{ctx: ctx, instrument: in, header: strings.Join(head, ":"), args: args, suffixes: suffixes}
	if err := cmd.run(c); err != nil {
		return nil, next, err
	}
	if c.number {
		c.answer = in.faults.overflow(c.answer, in.now())
	}
	return c.answer, next, nil
}

// wait lets an answer take its time; the slow fault stretches it. It returns
// errInterrupted when a message arrives meanwhile and that ends queries.
func (c *call) wait(d time.Duration, interruptible bool) error {
	d = c.faults.stretch(d, c.now())
	if d <= 0 {
		return nil
	}
	timer := time.NewTimer(d)
	defer timer.Stop()
	incoming := c.incoming
	if !interruptible && !c.config.Interrupts || c.waiting != nil {
		incoming = nil
	}
	select {
	case <-timer.C:
		return nil
	case <-c.ctx.Done():
		return errInterrupted
	case m, ok := <-incoming:
		if ok {
			c.waiting = &m
		}
		return errInterrupted
	}
}

// reply sets the answer; it returns nil so that a command can end with it.
func (c *call) reply(format string, args ...any) error {
	c.answer = fmt.Appendf(nil, format, args...)
	return nil
}

// wire returns what the channel is wired to, nil for an open input.
func (in *instrument) wire(channel int) *wire { return in.wires[channel] }

package main

import (
	"fmt"
	"io"
	"time"
)

// howFar tells how far long work is: on a terminal in one line that is written
// again and again, elsewhere in a line now and then.
type howFar struct {
	to       io.Writer
	terminal bool
	every    time.Duration
	next     time.Time
	shown    bool
	bytes    int64
}

func tellHowFar(to io.Writer) *howFar {
	p := &howFar{to: to, terminal: onTerminal(to), every: 10 * time.Second}
	if p.terminal {
		p.every = 200 * time.Millisecond
	}
	p.next = time.Now().Add(p.every)
	return p
}

// say tells it, if it is time to.
func (p *howFar) say(format string, args ...any) {
	now := time.Now()
	if now.Before(p.next) {
		return
	}
	p.next, p.shown = now.Add(p.every), true
	if p.terminal {
		fmt.Fprintf(p.to, "\r\x1b[K"+format, args...) // ECMA-48, 8.3.41: erase the line
		return
	}
	fmt.Fprintf(p.to, format+"\n", args...)
}

// end takes the line away.
func (p *howFar) end() {
	if p.terminal && p.shown {
		fmt.Fprint(p.to, "\r\x1b[K")
	}
}

// writer tells how much goes through it.
func (p *howFar) writer(w io.Writer) io.Writer { return howFarWriter{p, w} }

type howFarWriter struct {
	far *howFar
	to  io.Writer
}

func (w howFarWriter) Write(b []byte) (int, error) {
	n, err := w.to.Write(b)
	w.far.bytes += int64(n)
	w.far.say("%s written", bytesInWords(w.far.bytes))
	return n, err
}

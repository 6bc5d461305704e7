package main

import (
	"context"
	"fmt"
	"io"
	"slices"
	"time"

	"soakline/logger/page"
)

// Soaks under way are drawn anew on a terminal; elsewhere a line is written now
// and then.
const (
	redrawEvery = 500 * time.Millisecond
	lineEvery   = 10 * time.Second
)

// follower shows soaks until the last of them has its verdict.
type follower struct {
	w        io.Writer
	terminal bool
	marks    tapeMarks
	units    []string
	verdicts map[string]page.VerdictView
	drawn    int // lines that the next drawing covers
}

func newFollower(w io.Writer, units []string) *follower {
	f := &follower{w: w, terminal: onTerminal(w), marks: plainTape, units: units, verdicts: map[string]page.VerdictView{}}
	if f.terminal && showsUnicode() {
		f.marks = drawnTape
	}
	return f
}

// follow asks for the bench's state again and again until every soak has ended.
func (f *follower) follow(ctx context.Context, look func(context.Context) (page.BenchView, error)) error {
	every := lineEvery
	if f.terminal {
		every = redrawEvery
	}
	show := time.NewTicker(every)
	defer show.Stop()
	check := time.NewTicker(redrawEvery)
	defer check.Stop()
	for {
		view, err := look(ctx)
		if err != nil {
			return err
		}
		if f.collect(view) {
			return nil
		}
		select {
		case <-ctx.Done():
			return ctx.Err()
		case <-check.C:
		case <-show.C:
			f.draw(view)
		}
	}
}

// collect notes verdicts; it is true when every unit has one.
func (f *follower) collect(view page.BenchView) bool {
	for _, verdict := range view.Finished {
		_, known := f.verdicts[verdict.Unit]
		if !known && slices.Contains(f.units, verdict.Unit) {
			f.verdicts[verdict.Unit] = verdict
		}
	}
	return len(f.verdicts) == len(f.units)
}

// draw writes a line for each soak, on a terminal over the lines before.
func (f *follower) draw(view page.BenchView) {
	if f.drawn > 0 {
		fmt.Fprintf(f.w, "\x1b[%dA\x1b[J", f.drawn)
	}
	f.drawn = 0
	for _, soak := range view.Soaks {
		if !slices.Contains(f.units, soak.Unit) {
			continue
		}
		fmt.Fprintln(f.w, soakLine(soak, view.At, f.marks))
		if f.terminal {
			f.drawn++
		}
	}
}

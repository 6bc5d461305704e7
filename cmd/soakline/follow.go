package main

import (
	"context"
	"fmt"
	"io"
	"slices"
	"time"

	"github.com/mattn/go-runewidth"

	"soakline/logger/page"
)

// Soaks under way are drawn anew on a terminal; elsewhere a line is written now
// and then.
const (
	redrawEvery = 500 * time.Millisecond
	lineEvery   = 10 * time.Second
)

// narrowest is the width of a terminal that does not say how wide it is.
const narrowest = 80

// follower shows soaks until the last of them has its verdict.
type follower struct {
	w        io.Writer
	terminal bool
	// width is how many columns the terminal has now; a line that wraps could not
	// be drawn over.
	width    func() int
	marks    tapeMarks
	units    []string
	verdicts map[string]page.VerdictView
	places   map[string]string // where each unit was seen to soak
	drawn    int               // lines that the next drawing covers
}

func newFollower(w io.Writer, units []string) *follower {
	f := &follower{w: w, terminal: onTerminal(w), width: func() int { return widthOf(w) }, marks: plainTape, units: units, verdicts: map[string]page.VerdictView{}, places: map[string]string{}}
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
		if err := f.missed(view); err != nil {
			return err
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

// missed tells of a soak that has ended and whose place others have taken before
// its verdict was seen.
func (f *follower) missed(view page.BenchView) error {
	for _, soak := range view.Soaks {
		if slices.Contains(f.units, soak.Unit) {
			f.places[soak.Unit] = soak.Place
		}
	}
	for unit, place := range f.places {
		_, known := f.verdicts[unit]
		taken := slices.ContainsFunc(view.Soaks, func(s page.SoakView) bool { return s.Place == place && s.Unit != unit })
		under := slices.ContainsFunc(view.Soaks, func(s page.SoakView) bool { return s.Unit == unit })
		if !known && taken && !under {
			return fmt.Errorf("the soak of %s has ended and its place %s is taken again; soakline soak list --unit %s shows its verdict", unit, place, unit)
		}
	}
	return nil
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
		f.line(soakLine(soak, view.At, f.marks))
	}
	if view.Book.Trouble != "" {
		f.line("the book cannot be written: " + view.Book.Trouble)
	}
}

// line writes one line, on a terminal no longer than it is wide.
func (f *follower) line(text string) {
	if f.terminal {
		text = runewidth.Truncate(text, f.width(), "…")
		f.drawn++
	}
	fmt.Fprintln(f.w, text)
}

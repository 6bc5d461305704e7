package main

import (
	"fmt"
	"io"
	"time"

	"github.com/vbauerster/mpb/v8"
	"github.com/vbauerster/mpb/v8/decor"
)

// howFar tells how far long work is: on a terminal with a bar, elsewhere in a line
// now and then. It shows nothing of work that is done at once.
type howFar struct {
	to      io.Writer
	what    string // that is counted: "readings"
	every   time.Duration
	next    time.Time
	drawing *mpb.Progress // nil before the bar is drawn, and where there is no terminal
	bar     *mpb.Bar
}

// tellHowFar makes one; end must be called.
func tellHowFar(to io.Writer, what string) *howFar {
	p := &howFar{to: to, what: what, every: 10 * time.Second}
	if onTerminal(to) {
		p.every = 200 * time.Millisecond
	}
	p.next = time.Now().Add(p.every)
	return p
}

// say tells it, if it is time to; a total of 0 is not known.
func (p *howFar) say(done, total int64) {
	now := time.Now()
	if now.Before(p.next) {
		return
	}
	p.next = now.Add(p.every)
	switch {
	case onTerminal(p.to):
		p.draw(done, total)
	case total > 0:
		fmt.Fprintf(p.to, "%d of %d %s\n", done, total, p.what)
	default:
		fmt.Fprintf(p.to, "%d %s\n", done, p.what)
	}
}

// draw brings the bar up to date.
func (p *howFar) draw(done, total int64) {
	if p.drawing == nil {
		p.drawing = mpb.New(mpb.WithOutput(p.to), mpb.WithWidth(40))
		count := decor.CurrentNoUnit("%d " + p.what)
		if total > 0 {
			count = decor.CountersNoUnit("%d of %d " + p.what)
		}
		options := []mpb.BarOption{mpb.BarRemoveOnComplete(), mpb.PrependDecorators(count)}
		var style mpb.BarFillerBuilder = mpb.NopStyle()
		if total > 0 {
			style = mpb.BarStyle().Lbound(" ").Filler("=").Tip("=").Padding(".").Rbound(" ")
			options = append(options, mpb.AppendDecorators(decor.AverageETA(decor.ET_STYLE_MMSS, decor.WCSyncSpace)))
		}
		p.bar = p.drawing.New(total, style, options...)
	}
	p.bar.SetCurrent(done)
}

// end takes the bar away.
func (p *howFar) end() {
	if p.drawing == nil {
		return
	}
	p.bar.Abort(true)
	p.drawing.Wait()
	p.drawing = nil
}

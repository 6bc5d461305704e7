package main

import (
	"cmp"
	"context"
	"fmt"
	"sync"
	"time"

	"soakline/device"
	"soakline/logger"
	"soakline/logger/page"
)

// lookAtInstruments asks a running daemon, which holds the ports, or else each
// instrument itself.
func (d *doctor) lookAtInstruments(ctx context.Context) {
	running, err := findDaemon(ctx, d.bench)
	switch {
	case err != nil:
		d.add("daemon", wrong, adviceOnDaemon, "%v", err)
	case running != nil:
		d.askDaemon(ctx, running)
	default:
		d.add("daemon", inOrder, "", "none is running; the instruments are asked from here")
		d.askInstruments(ctx)
	}
}

// askDaemon shows how the daemon stands.
func (d *doctor) askDaemon(ctx context.Context, running *daemon) {
	var view page.BenchView
	if err := running.get(ctx, "/api/v1/bench", &view); err != nil {
		d.add("daemon", wrong, adviceOnDaemon, "%v", err)
		return
	}
	if view.Book.Trouble != "" {
		d.add("daemon", wrong, "see disk and book; readings wait in memory meanwhile", "it cannot write the book: %s", view.Book.Trouble)
	} else {
		d.add("daemon", inOrder, "", "it runs at %s, %d readings written since its start", running.address, view.Book.WrittenReadings)
	}
	for cause, n := range view.Book.LostReadings {
		d.add("daemon", mind, "the evidence of the soaks is without them", "%d readings lost since its start: %s", n, cause)
	}
	for _, instrument := range view.Instruments {
		about := "instrument " + instrument.Name
		switch {
		case !instrument.Up:
			d.add(about, wrong, adviceOnPort(device.Silence, instrument.Port)+", once the bench is stopped", "it does not answer: %s", cmp.Or(instrument.Trouble, "it was not heard of yet"))
		case instrument.Trouble != "":
			d.add(about, mind, "the bench goes on by itself when it can; doctor says the next time whether it did", "%s on %s: %s", cmp.Or(instrument.Identity, "it talks by itself"), instrument.Port, instrument.Trouble)
		default:
			d.add(about, inOrder, "", "%s on %s, opened again %d times", cmp.Or(instrument.Identity, "it talks by itself"), instrument.Port, instrument.Reopens)
		}
	}
}

// askInstruments opens every port as the bench would, all at the same time.
func (d *doctor) askInstruments(ctx context.Context) {
	answers := make([]finding, len(d.bench.Instruments))
	var group sync.WaitGroup
	for i, instrument := range d.bench.Instruments {
		group.Go(func() { answers[i] = askInstrument(ctx, instrument, d.patience) })
	}
	group.Wait()
	d.found = append(d.found, answers...)
}

// askInstrument waits until an instrument answers, for as long as patience says,
// and else gives the last that went wrong.
func askInstrument(ctx context.Context, instrument logger.InstrumentSettings, patience time.Duration) finding {
	ctx, stop := context.WithTimeout(ctx, patience)
	defer stop()
	listener := &answerListener{stop: stop}
	link := device.Link{Name: instrument.Name, Port: instrument.Port, Commands: instrument.Commands}
	err := device.NewKeeper(link, listener).Run(ctx)
	answer := finding{About: "instrument " + instrument.Name, Condition: wrong}
	switch last := listener.last; {
	case listener.answered != "":
		answer.Condition, answer.Text = inOrder, listener.answered
	case err != nil:
		answer.Text, answer.Advice = err.Error(), adviceOnPort(device.Unsuitable, instrument.Port)
	case last.Kind == "":
		answer.Text = fmt.Sprintf("%s: nothing was heard of it for %s", instrument.Port, patience)
		answer.Advice = "look if it is switched on and connected; soakline identify " + instrument.Port + " tries every speed and ending"
	default:
		answer.Text, answer.Advice = last.Text, adviceOnPort(last.Kind, instrument.Port)
	}
	return answer
}

// adviceOnDaemon says what to do where the daemon does not answer as it should.
const adviceOnDaemon = "look at its log (journalctl -u soakline), or start it again"

// adviceOnPort says what to do about a kind of trouble.
func adviceOnPort(kind device.Kind, port string) string {
	switch kind {
	case device.Absent, device.Lost:
		return "plug it in, or take the address that soakline ports shows"
	case device.Silence, device.Garbage:
		return "look if it is switched on and set as bench.yaml says; soakline identify " + port + " tries every speed and ending"
	case device.Busy:
		return "close the program that holds the port"
	case device.Stranger:
		return "another instrument is on this port: change the cable or the port in bench.yaml"
	case device.Denied:
		return "give the user that runs the bench the right to open it: mostly the group dialout (usermod -aG dialout NAME, then log in anew)"
	case device.Unsuitable:
		return "mend port, line mode or command set in bench.yaml; soakline identify " + port + " prints lines that fit"
	}
	return "soakline identify " + port + " shows what it answers; its command set may not fit it"
}

// answerListener is a sink that waits for the first sign of life.
type answerListener struct {
	stop     context.CancelFunc
	answered string
	last     device.Event
}

var _ device.Sink = (*answerListener)(nil)

// TakeReading is a sign of life of an instrument that talks by itself.
func (l *answerListener) TakeReading(_, channel string, r device.Reading) {
	if l.answered == "" {
		l.answered = fmt.Sprintf("talks by itself: channel %q says %s", channel, r.Digits)
	}
	l.stop()
}

// TakeCapture does not happen: none is asked for.
func (l *answerListener) TakeCapture(string, string, device.Capture) {}

// TakeEvent notes that the instrument answered, or what went wrong.
func (l *answerListener) TakeEvent(e device.Event) {
	if e.Kind == device.Opened {
		l.answered = e.Text
		l.stop()
		return
	}
	l.last = e
}

package device

import (
	"context"
	"time"

	"soakline/device/scpi"
)

// ear is an open line of an instrument that talks unasked.
type ear struct {
	talker   *talker
	talk     *scpi.Conversation
	patience time.Duration
	// whole tells that the next line is one from its beginning.
	whole bool
}

// listenTo takes lines until the port is lost or the context ends. The port stays
// open through silence: opening resets many instruments.
func (k *Keeper) listenTo(ctx context.Context, line Port) error {
	t, err := newTalker(k.link.Commands.Listen)
	if err != nil {
		return k.failed("listen", line.Name(), err)
	}
	e := &ear{talker: t, patience: or(t.listen.SilentAfter, defaultAskTimeout),
		talk: scpi.NewConversation(line, scpi.Framing{SendEnding: k.link.Commands.Line.SendEnding})}
	up := false
	for {
		answer, err := e.next(ctx)
		if ctx.Err() != nil {
			return ctx.Err()
		}
		if err != nil && kindOf(err) == Lost {
			return k.failed("listen", line.Name(), err)
		}
		if err == nil && !up {
			up = true
			k.opened(scpi.Identity{}, line.Name())
		}
		k.hear(line.Name(), e, answer, err)
	}
}

// next waits for a whole line. The first after opening, after silence and after
// bytes that are no text may be the rest of a longer one, which reads as another
// number (S-P10): it is taken away and the line behind it returned.
func (e *ear) next(ctx context.Context) (scpi.Answer, error) {
	if !e.whole {
		if err := e.toLineEnd(ctx); err != nil {
			return scpi.Answer{}, err
		}
	}
	ctx, cancel := context.WithTimeout(ctx, e.patience)
	defer cancel()
	answer, err := e.talk.NextLine(ctx)
	e.whole = err == nil
	return answer, err
}

func (e *ear) toLineEnd(ctx context.Context) error {
	ctx, cancel := context.WithTimeout(ctx, e.patience)
	defer cancel()
	_, err := e.talk.Resync(ctx, "", nil, 0)
	return err
}

// hear passes on what a line says, or why there is none.
func (k *Keeper) hear(portName string, e *ear, answer scpi.Answer, err error) {
	op := "listen"
	var channel string
	var reading Reading
	if err == nil {
		op = "understand"
		channel, reading, err = e.talker.understand(answer)
	}
	if err == nil {
		k.heard(channel, reading)
		return
	}
	err = k.failed(op, portName, err)
	kind := kindOf(err)
	k.cannotRead(Want{Channel: channel, Measure: reading.Measure}, kind, err)
}

// heard takes a reading that came unasked: whatever else was wrong with the line
// is over.
func (k *Keeper) heard(channel string, r Reading) {
	if kind, was := k.bad[Want{}]; was {
		delete(k.bad, Want{})
		k.event(Returned, "lines again after "+string(kind))
	}
	k.took(channel, r)
}

package logger

import (
	"fmt"
	"slices"

	"soakline/device"
)

// Standby is told which outputs are to be off should the program end without another
// word, as one that is killed does.
type Standby interface {
	// Cover replaces the outputs that are covered; none ends the standing by.
	Cover(outputs []CoveredOutput) error
}

// CoveredOutput is one output that is on, or may be.
type CoveredOutput struct {
	Link    device.Link
	Channel string
	// Answered is what each instrument of the bench answered to *IDN?, by its name, so
	// that ports that have swapped their names are told apart.
	Answered map[string]string
}

// coverOutput has the output of a soak covered before it is switched on; one that
// can't be covered is not switched on.
func (b *Bench) coverOutput(soak *liveSoak) error {
	b.covering.Lock()
	defer b.covering.Unlock()
	if b.options.Standby == nil {
		return nil
	}
	p := soak.power
	at := slices.IndexFunc(b.settings.Instruments, func(i InstrumentSettings) bool { return i.Name == p.instrument })
	answered := map[string]string{}
	for name, keeper := range b.keepers {
		answered[name] = keeper.Status().Identity.Text
	}
	instrument := b.settings.Instruments[at]
	if b.covered == nil {
		b.covered = map[*liveSoak]CoveredOutput{}
	}
	b.covered[soak] = CoveredOutput{Channel: p.channel, Answered: answered,
		Link: device.Link{Name: instrument.Name, Port: instrument.Port, Commands: instrument.Commands}}
	if err := b.tellCover(); err != nil {
		return fmt.Errorf("nothing would switch it off if this program were killed: %w", err)
	}
	return nil
}

// uncoverOutput ends that once the output is off for good.
func (b *Bench) uncoverOutput(soak *liveSoak) {
	b.covering.Lock()
	defer b.covering.Unlock()
	if _, covered := b.covered[soak]; !covered {
		return
	}
	delete(b.covered, soak)
	if err := b.tellCover(); err != nil {
		b.options.Log.Error("what stands by to switch outputs off was not told that one is off", "unit", soak.unit, "error", err)
	}
}

func (b *Bench) tellCover() error {
	var all []CoveredOutput
	for _, output := range b.covered {
		all = append(all, output)
	}
	return b.options.Standby.Cover(all)
}

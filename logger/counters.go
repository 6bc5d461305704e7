package logger

import (
	"maps"
	"sync"
	"time"

	"soakline/checks"
	"soakline/device"
	"soakline/logger/book"
)

// Counters count what the bench has done since its start. They are written by
// whoever does it and read by the metrics, from any goroutine.
type Counters struct {
	mu         sync.Mutex
	series     map[book.Tag]*Tally
	troubles   map[Trouble]uint64
	losses     map[string]uint64
	excursions map[ExcursionKey]uint64
	committed  func(time.Duration)
	watching   Watching
}

// Tally is how many readings a series has had, and the latest.
type Tally struct {
	Readings uint64
	Last     device.Reading
}

// Trouble is a kind of event of one instrument.
type Trouble struct {
	Instrument string
	Kind       device.Kind
}

// ExcursionKey is what excursions are counted by.
type ExcursionKey struct {
	Unit  checks.UnitID
	Check checks.CheckKey
	State checks.State
}

func newCounters() *Counters {
	return &Counters{series: map[book.Tag]*Tally{}, troubles: map[Trouble]uint64{}, losses: map[string]uint64{},
		excursions: map[ExcursionKey]uint64{}}
}

// OnCommit has f called with how long each successful commit of the book took.
func (c *Counters) OnCommit(f func(time.Duration)) {
	c.mu.Lock()
	defer c.mu.Unlock()
	c.committed = f
}

// Series returns the tallies of the units that are on the bench.
func (c *Counters) Series() map[book.Tag]Tally {
	c.mu.Lock()
	defer c.mu.Unlock()
	all := make(map[book.Tag]Tally, len(c.series))
	for tag, tally := range c.series {
		all[tag] = *tally
	}
	return all
}

// Troubles returns how many events of each kind every instrument has had.
func (c *Counters) Troubles() map[Trouble]uint64 {
	c.mu.Lock()
	defer c.mu.Unlock()
	return maps.Clone(c.troubles)
}

// Losses returns how many readings were lost, by cause.
func (c *Counters) Losses() map[string]uint64 {
	c.mu.Lock()
	defer c.mu.Unlock()
	return maps.Clone(c.losses)
}

// Excursions returns how many excursions have begun.
func (c *Counters) Excursions() map[ExcursionKey]uint64 {
	c.mu.Lock()
	defer c.mu.Unlock()
	return maps.Clone(c.excursions)
}

func (c *Counters) reading(tag book.Tag, r device.Reading) {
	c.mu.Lock()
	defer c.mu.Unlock()
	tally := c.series[tag]
	if tally == nil {
		tally = &Tally{}
		c.series[tag] = tally
	}
	tally.Readings++
	tally.Last = r
}

// leave forgets the series of a unit that has left the bench.
func (c *Counters) leave(unit checks.UnitID) {
	c.mu.Lock()
	defer c.mu.Unlock()
	maps.DeleteFunc(c.series, func(tag book.Tag, _ *Tally) bool { return tag.Unit == unit })
	maps.DeleteFunc(c.excursions, func(key ExcursionKey, _ uint64) bool { return key.Unit == unit })
}

func (c *Counters) event(e device.Event) {
	if e.Kind == device.Opened || e.Kind == device.Returned {
		return // good news
	}
	c.mu.Lock()
	defer c.mu.Unlock()
	c.troubles[Trouble{e.Instrument, e.Kind}]++
}

func (c *Counters) lost(cause string) {
	c.mu.Lock()
	defer c.mu.Unlock()
	c.losses[cause]++
}

func (c *Counters) excursion(unit checks.UnitID, change checks.Change) {
	if change.Kind != checks.ExcursionBegun {
		return
	}
	c.mu.Lock()
	defer c.mu.Unlock()
	c.excursions[ExcursionKey{unit, change.Check, change.Excursion.State}]++
}

func (c *Counters) commit(commit book.Commit) {
	c.mu.Lock()
	observe := c.committed
	c.mu.Unlock()
	if commit.Err == nil && observe != nil {
		observe(commit.Took)
	}
}

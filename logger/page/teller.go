package page

import (
	"bytes"
	"encoding/json"
	"slices"
	"strconv"
	"time"

	"soakline/checks"
	"soakline/logger"
)

// teller finds what has changed from one snapshot to the next.
type teller struct {
	checks map[liveKey]liveMark
	soaks  []int64
	// finished are the soaks whose verdicts are shown.
	finished []int64
	// told are the bytes of everything else, by what it is called here.
	told map[string][]byte
}

// liveKey names a check of a soak.
type liveKey struct {
	soak  int64
	check checks.CheckKey
}

// liveMark tells whether a check stands as it did.
type liveMark struct {
	at, since time.Time
	state     checks.State
	readings  int
	refused   string
}

// newTeller returns a teller that has told all of a snapshot.
func newTeller(s logger.Snapshot) *teller {
	t := &teller{checks: map[liveKey]liveMark{}, told: map[string][]byte{}}
	t.change(s, true)
	return t
}

// change returns what is new in a snapshot; with whole everything is looked at, not
// the figures and the lists of soaks and verdicts alone.
func (t *teller) change(s logger.Snapshot, whole bool) LiveChange {
	change := LiveChange{At: s.At}
	soaks, finished := []int64{}, []int64{}
	for _, soak := range s.Soaks {
		id := int64(soak.ID)
		soaks = append(soaks, id)
		change.Checks = append(change.Checks, t.changedChecks(soak)...)
		if whole || !slices.Contains(t.soaks, id) {
			view := soakView(soak)
			if t.isNew("soak "+strconv.FormatInt(id, 10), view) {
				change.Soaks = append(change.Soaks, view)
			}
		}
	}
	for _, soak := range s.Finished {
		finished = append(finished, int64(soak.ID))
	}
	change.Gone = t.gone(soaks)
	if !slices.Equal(finished, t.finished) {
		views := View(s).Finished
		change.Finished = &views
	}
	t.soaks, t.finished = soaks, finished
	if whole {
		t.changedRest(s, &change)
	}
	return change
}

// changedChecks are the checks of a soak that stand otherwise than before.
func (t *teller) changedChecks(soak logger.SoakStatus) []LiveCheck {
	var changed []LiveCheck
	for _, c := range soak.Checks {
		key := liveKey{int64(soak.ID), c.Check}
		mark := liveMark{c.At, c.Since, c.State, c.Readings, c.Refused}
		if t.checks[key] != mark {
			t.checks[key] = mark
			changed = append(changed, viewLive(key.soak, c))
		}
	}
	return changed
}

// gone are the soaks that are no longer among those under way; they are forgotten.
func (t *teller) gone(soaks []int64) []int64 {
	var gone []int64
	for _, id := range t.soaks {
		if slices.Contains(soaks, id) {
			continue
		}
		gone = append(gone, id)
		delete(t.told, "soak "+strconv.FormatInt(id, 10))
		for key := range t.checks {
			if key.soak == id {
				delete(t.checks, key)
			}
		}
	}
	return gone
}

// changedRest adds instruments and book where they have changed.
func (t *teller) changedRest(s logger.Snapshot, change *LiveChange) {
	view := View(logger.Snapshot{Instruments: s.Instruments, Book: s.Book})
	for _, instrument := range view.Instruments {
		if t.isNew("instrument "+instrument.Name, instrument) {
			change.Instruments = append(change.Instruments, instrument)
		}
	}
	if t.isNew("book", view.Book) {
		change.Book = &view.Book
	}
}

// isNew tells whether something is not as it was told last.
func (t *teller) isNew(name string, view any) bool {
	text, err := json.Marshal(view)
	if err != nil {
		return true // the hub says so when it cannot be sent
	}
	if bytes.Equal(t.told[name], text) {
		return false
	}
	t.told[name] = text
	return true
}

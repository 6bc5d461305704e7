package book

import (
	"bytes"
	"fmt"
	"math/rand/v2"
	"slices"
	"strings"
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"

	"soakline/checks"
)

// shipment plays a target: what it has, and what it was given for the first time in
// which order.
type shipment struct {
	has   map[string]int
	order []string
}

func (s *shipment) take(p Parcel) {
	begin := 0
	for _, end := range p.Ends {
		line := string(p.Text[begin:end])
		begin = end
		if s.has[line] == 0 {
			s.order = append(s.order, line)
		}
		s.has[line]++
	}
}

// bookLines is the book in lines, as soakline book export writes it.
func bookLines(t testing.TB, b *Book) []string {
	t.Helper()
	var text bytes.Buffer
	_, err := b.ExportLines(t.Context(), &text, Filter{})
	must(t, err)
	return slices.Collect(strings.Lines(text.String()))
}

// hold compares what a target has with the book.
func (s *shipment) hold(t *testing.T, b *Book) {
	t.Helper()
	want := map[string]bool{}
	for _, line := range bookLines(t, b) {
		want[line] = true
		if s.has[line] == 0 {
			t.Fatalf("the target does not have %s", line)
		}
	}
	for line := range s.has {
		if !want[line] {
			t.Fatalf("the target has a line that the book has not: %s", line)
		}
	}
}

// drain gives all there is to a target.
func drain(t *testing.T, o *Outgoing, to *shipment, lines int) {
	t.Helper()
	must(t, o.Refresh(t.Context()))
	for {
		p, err := o.Next(t.Context(), lines)
		must(t, err)
		if len(p.Damaged) > 0 {
			t.Fatal(p.Damaged)
		}
		if len(p.Ends) == 0 {
			break
		}
		to.take(p)
		must(t, o.Keep(t.Context(), p.Reached))
	}
	if n := o.Pending(); n != 0 {
		t.Fatalf("%d readings are pending after all were given out", n)
	}
}

// TestOutgoingTellsTheBook writes at random, clocks that go back and readings of
// one microsecond included, and ships meanwhile, with steps back and new starts.
// In the end the target has the lines of the book and no others.
func TestOutgoingTellsTheBook(t *testing.T) {
	for round := range 4 {
		seed := uint64(time.Now().UnixNano()) + uint64(round)
		t.Run(fmt.Sprint(seed), func(t *testing.T) {
			chance := rand.New(rand.NewPCG(seed, 1))
			b := openNew(t)
			to := &shipment{has: map[string]int{}}
			o, err := b.Outgoing(t.Context(), "store")
			must(t, err)
			j, at := newJournal(), time.Duration(0)
			for range 80 {
				must(t, writeSome(t, b, j, chance, &at))
				switch chance.IntN(12) {
				case 0: // killed and started again
					o, err = b.Outgoing(t.Context(), "store")
					must(t, err)
				case 1:
					o.Rewind()
				case 2, 3, 4: // without network
				default:
					must(t, o.Refresh(t.Context()))
					for range chance.IntN(4) {
						p, err := o.Next(t.Context(), 1+chance.IntN(4000))
						must(t, err)
						to.take(p)
						if chance.IntN(3) > 0 {
							must(t, o.Keep(t.Context(), p.Reached))
						}
					}
				}
				if chance.IntN(40) == 0 {
					j = newJournal()
				}
			}
			// What was not kept is given again by the last start.
			o, err = b.Outgoing(t.Context(), "store")
			must(t, err)
			drain(t, o, to, 1000)
			to.hold(t, b)
		})
	}
}

// writeSome commits some readings of some series.
func writeSome(t *testing.T, b *Book, j *journal, chance *rand.Rand, at *time.Duration) error {
	if chance.IntN(15) == 0 {
		*at -= time.Duration(chance.IntN(5_000)) * time.Millisecond
	}
	step := 1 + chance.IntN(20_000)
	var all []TaggedReading
	for range 1 + chance.IntN(1500) {
		tag := rail
		tag.TestPoint = checks.TestPointName(fmt.Sprintf("rail-%d", chance.IntN(3)))
		*at += (time.Duration(chance.IntN(step)) * time.Microsecond).Truncate(time.Millisecond)
		all = append(all, digits(t, tag, *at, fmt.Sprintf("5.%04d", chance.IntN(10_000))))
	}
	_, err := b.store(t.Context(), &batch{readings: all}, j)
	return err
}

// TestOutgoingKeepsOrder: as long as no clock goes back every reading is given in
// the order of time over all series, once.
func TestOutgoingKeepsOrder(t *testing.T) {
	b := openNew(t)
	o, err := b.Outgoing(t.Context(), "store")
	must(t, err)
	to := &shipment{has: map[string]int{}}
	j := newJournal()
	for i := range 40 {
		var all []TaggedReading
		for k := range 500 {
			tag := rail
			tag.TestPoint = checks.TestPointName(fmt.Sprintf("rail-%d", k%4))
			all = append(all, digits(t, tag, time.Duration(i*500+k)*time.Millisecond, "5.01"))
		}
		_, err := b.store(t.Context(), &batch{readings: all}, j)
		must(t, err)
		if i < 5 || i > 30 { // between, nothing is looked at
			drain(t, o, to, 700)
		}
	}
	drain(t, o, to, 700)
	to.hold(t, b)
	if diff := cmp.Diff(bookLines(t, b), to.order); diff != "" {
		t.Error(diff)
	}
	for line, n := range to.has {
		if n != 1 {
			t.Fatalf("given %d times: %s", n, line)
		}
	}
}

// TestOutgoingExcursionsAndVerdicts: they come once, when they are over, as the
// book's export has them; a second target has its own place.
func TestOutgoingExcursionsAndVerdicts(t *testing.T) {
	b, _ := judgedSoak(t)
	for _, target := range []string{"store", "other"} {
		o, err := b.Outgoing(t.Context(), target)
		must(t, err)
		to := &shipment{has: map[string]int{}}
		drain(t, o, to, 1)
		to.hold(t, b)
		again := &shipment{has: map[string]int{}}
		drain(t, o, again, 100)
		if len(again.order) != 0 {
			t.Errorf("%s was given again: %v", target, again.order)
		}
	}
}

// TestShipAnew forgets one target's place only.
func TestShipAnew(t *testing.T) {
	b, _ := judgedSoak(t)
	ctx := t.Context()
	for _, target := range []string{"store", "other"} {
		o, err := b.Outgoing(ctx, target)
		must(t, err)
		drain(t, o, &shipment{has: map[string]int{}}, 100)
	}
	must(t, b.PutRefused(ctx, "store", []RefusedLine{{At: begin, Reason: "no", Line: "x y=1 1"}}))
	must(t, b.PutRefused(ctx, "store", []RefusedLine{{At: begin, Reason: "no", Line: "x y=1 1"}, {At: begin, Reason: "no", Line: "x y=2 1"}}))
	targets, err := b.ShipTargets(ctx)
	if diff := cmp.Diff([]ShipTarget{{Name: "other"}, {Name: "store", Refused: 2}}, targets); err != nil || diff != "" {
		t.Error(err, diff)
	}
	must(t, b.ShipAnew(ctx, "store"))
	if refused, err := b.Refused(ctx, "", 10); err != nil || len(refused) != 0 {
		t.Errorf("%v, %v", refused, err)
	}
	for target, want := range map[string]bool{"store": true, "other": false} {
		o, err := b.Outgoing(ctx, target)
		must(t, err)
		must(t, o.Refresh(ctx))
		if got := o.Pending() > 0; got != want {
			t.Errorf("%s: something pending %v, want %v", target, got, want)
		}
	}
	if err := b.ShipAnew(ctx, "nobody"); err == nil {
		t.Error("a target that nobody knows is begun anew")
	}
}

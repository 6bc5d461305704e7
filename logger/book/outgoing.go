package book

import (
	"bytes"
	"container/heap"
	"context"
	"errors"
	"maps"
	"math"
)

// Outgoing gives what comes into the book to one target of shipping: readings in
// the order of their time, each series in the order of its arrival, then excursions
// and verdicts. How far it got is kept in the book when Keep is told so, not before:
// after a crash, or Rewind, what was given since is given again, in equal lines. It
// is for one goroutine.
type Outgoing struct {
	book   *Book
	target string
	// kept is how far the book says that the target has it.
	kept Reached
	// chain is up to where the chain was given out.
	chain int64
	// row is the newest row of the tail that was seen; 0 before the first look.
	row    int64
	series map[int64]*outSeries
	next   outHeap

	lines   *lineWriter
	text    bytes.Buffer
	decoder blockReader
}

// Parcel is some lines in the order in which they go out.
type Parcel struct {
	// Text is the lines in line protocol, Ends where each of them ends in it, its
	// line feed included.
	Text []byte
	Ends []int
	// Readings is how many of the lines are readings.
	Readings int
	// Reached is how far the target is once it has them.
	Reached Reached
	// Damaged says which blocks of the book could not be read and were passed over.
	Damaged []error
}

// Reached is how far a target is: up to where in some series, and in the chain.
type Reached struct {
	places map[int64]place
	chain  int64
}

// Add goes on to what another has reached later.
func (r *Reached) Add(later Reached) {
	if r.places == nil {
		r.places = make(map[int64]place, len(later.places))
	}
	maps.Copy(r.places, later.places)
	r.chain = max(r.chain, later.chain)
}

// Empty tells whether it says nothing.
func (r Reached) Empty() bool { return len(r.places) == 0 && r.chain == 0 }

// Outgoing returns what has not gone to a target yet, from where the book says that
// it is; all there is for a new one. Refresh has to look before Next gives.
func (b *Book) Outgoing(ctx context.Context, target string) (*Outgoing, error) {
	kept, err := b.reached(ctx, target)
	if err != nil {
		return nil, err
	}
	o := &Outgoing{book: b, target: target, kept: kept}
	o.lines = newLineWriter(&o.text)
	o.Rewind()
	return o, nil
}

// Rewind goes back to what the book says that the target has.
func (o *Outgoing) Rewind() {
	o.chain, o.row, o.series, o.next = o.kept.chain, 0, make(map[int64]*outSeries), nil
}

// Keep writes into the book that the target has all that was reached.
func (o *Outgoing) Keep(ctx context.Context, reached Reached) error {
	if reached.Empty() {
		return nil
	}
	if err := o.book.keepReached(ctx, o.target, reached); err != nil {
		return err
	}
	o.kept.Add(reached)
	return nil
}

// Pending is how many readings were committed, as the last Refresh saw, and not
// given out.
func (o *Outgoing) Pending() int64 {
	var n int64
	for _, s := range o.series {
		n += s.pending
	}
	return n
}

// Oldest is about when the oldest of the pending readings was taken, in
// microseconds since 1970; ok is false if there is none.
func (o *Outgoing) Oldest() (us int64, ok bool) {
	if len(o.next) == 0 {
		return 0, false
	}
	return o.next[0].head(), true
}

// Next gives the next lines, at most so many; none means that the target has all
// that the last Refresh saw. A block that is damaged is passed over and told. An
// error rewinds.
func (o *Outgoing) Next(ctx context.Context, lines int) (Parcel, error) {
	p, err := o.gather(ctx, lines)
	if err != nil {
		o.Rewind()
		return Parcel{}, o.book.fail("ship", err)
	}
	return p, nil
}

func (o *Outgoing) gather(ctx context.Context, lines int) (Parcel, error) {
	p := Parcel{Reached: Reached{places: make(map[int64]place)}}
	o.text.Reset()
	for len(p.Ends) < lines && len(o.next) > 0 {
		s := o.next[0]
		err := s.ready(ctx, o)
		if errors.Is(err, ErrDamaged) {
			p.Damaged = append(p.Damaged, o.book.fail("ship", err))
			s.passOver()
			p.Reached.places[s.id] = s.at
		} else if err != nil {
			return p, err
		} else if f, ok := s.take(); ok {
			if err := o.lines.stamped(s.tag, f.value, fromMicro(f.at), f.n); err != nil {
				return p, err
			}
			p.end(o)
			p.Readings++
			p.Reached.places[s.id] = s.at
		}
		o.reorder(s)
	}
	if len(o.next) == 0 {
		if err := o.nextLinks(ctx, &p, lines); err != nil {
			return p, err
		}
	}
	p.Text = bytes.Clone(o.text.Bytes())
	return p, nil
}

// end notes that a line was written.
func (p *Parcel) end(o *Outgoing) {
	_ = o.lines.flush() // into memory
	p.Ends = append(p.Ends, o.text.Len())
}

// reorder puts the first series where it belongs now.
func (o *Outgoing) reorder(s *outSeries) {
	if s.pending <= 0 || s.head() == math.MaxInt64 {
		heap.Pop(&o.next)
		return
	}
	heap.Fix(&o.next, 0)
}

// outHeap keeps the series on top whose next reading is the earliest.
type outHeap []*outSeries

func (h outHeap) Len() int      { return len(h) }
func (h outHeap) Swap(i, j int) { h[i], h[j] = h[j], h[i] }
func (h outHeap) Less(i, j int) bool {
	a, b := h[i].head(), h[j].head()
	return a < b || a == b && h[i].tag.Compare(h[j].tag) < 0
}

// Push and Pop serve container/heap.
func (h *outHeap) Push(x any) { *h = append(*h, x.(*outSeries)) }

// Pop takes the last series off.
func (h *outHeap) Pop() any {
	last := (*h)[len(*h)-1]
	*h = (*h)[:len(*h)-1]
	return last
}

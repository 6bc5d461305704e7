package book

import (
	"context"
	"math"
)

// place is how far a target is in one series: it has all blocks up to block, and
// ahead readings that arrived after those.
type place struct {
	block, ahead int64
	// newest is the time of the newest of those ahead, and same how many of them
	// have it; reach is that of the newest of all.
	newest, same, reach int64
}

// nowhere is the place before the first reading.
var nowhere = place{newest: math.MinInt64, reach: math.MinInt64}

// outSeries is a series on its way to a target.
type outSeries struct {
	series
	at place // up to where it was given out
	// blocks are not given out yet, the first of them perhaps in part, in the order
	// in which they were written; more tells that there are others after them.
	blocks []outBlock
	more   bool
	// far is the newest time in any block that is not given out.
	far int64
	// figures are those of the first block that are left, once it was opened.
	figures []figure
	opened  bool
	// tail is what is in no block and was not given out.
	tail    []figure
	pending int64

	// last and times are the time of the reading given out last and how many had it
	// before. Where a clock went back to times at which the series had been, inBlock
	// and inTail say how many arrived earlier, by time.
	last, times     int64
	inBlock, inTail map[int64]int64
}

func newOutSeries(s series, at place) *outSeries {
	return &outSeries{series: s, at: at, last: math.MinInt64}
}

// outBlock is a block that is still to be given out.
type outBlock struct {
	id, first, last, count int64
	late                   bool
}

// stampedFigure is a figure with how many of its series arrived before it in the
// same microsecond.
type stampedFigure struct {
	figure
	n int64
}

// head is the time of the next reading, or one not after it.
func (s *outSeries) head() int64 {
	switch {
	case len(s.figures) > 0:
		return s.figures[0].at
	case len(s.blocks) > 0:
		return s.blocks[0].first
	case s.more:
		return s.at.reach
	case len(s.tail) > 0:
		return s.tail[0].at
	}
	return math.MaxInt64
}

// ready opens the next block if there is one to be opened.
func (s *outSeries) ready(ctx context.Context, o *Outgoing) error {
	if len(s.blocks) == 0 && s.more {
		if err := s.moreBlocks(ctx, o.book); err != nil {
			return err
		}
	}
	if len(s.blocks) == 0 || s.opened {
		return nil
	}
	b := s.blocks[0]
	if s.at.ahead >= b.count { // it was in the tail when it was given out
		s.leaveBlock()
		return nil
	}
	data, err := o.book.blockData(ctx, b.id)
	if err != nil {
		return err
	}
	figures, err := o.decoder.readBlock(nil, s.id, data)
	if err != nil {
		return damagedBlock(s.tag, b.id, err)
	}
	given := s.at.givenOf(figures)
	s.pending += s.at.ahead - int64(given)
	if given == 0 {
		s.at.ahead, s.at.newest, s.at.same = 0, math.MinInt64, 0
	}
	if b.late {
		if s.inBlock, err = o.book.arrivedBefore(ctx, s.series, b); err != nil {
			return err
		}
	}
	for i := range given { // so that those of the same microsecond are counted on
		s.stamp(figures[i].at, s.inBlock)
	}
	s.figures, s.opened = figures[given:], true
	return nil
}

// givenOf is how many figures of a block, which is in time order, the first of those
// are that were given out in the order of their arrival. Where a clock went back
// meanwhile it cannot be told: then it is 0, and all are given out again.
func (p place) givenOf(figures []figure) int {
	same := min(p.same, p.ahead)
	i := p.ahead - same
	if p.ahead <= 0 || same == 0 || figures[i].at != p.newest || i > 0 && figures[i-1].at >= p.newest {
		return 0
	}
	return int(p.ahead)
}

// take gives the next figure; ok is false where a block has to be opened first.
func (s *outSeries) take() (f stampedFigure, ok bool) {
	switch {
	case len(s.figures) > 0:
		f.figure, s.figures = s.figures[0], s.figures[1:]
		f.n = s.stamp(f.at, s.inBlock)
	case len(s.blocks) > 0 || s.more || len(s.tail) == 0:
		return f, false
	default:
		f.figure, s.tail = s.tail[0], s.tail[1:]
		f.n = s.stamp(f.at, s.inTail)
	}
	s.pending--
	s.at.pass(f.at)
	if s.opened && len(s.figures) == 0 {
		s.leaveBlock()
	}
	return f, true
}

// stamp counts the readings of a microsecond.
func (s *outSeries) stamp(at int64, earlier map[int64]int64) int64 {
	switch {
	case earlier != nil:
		s.times = earlier[at]
		earlier[at]++
	case at == s.last:
		s.times++
	default:
		s.times = 0
	}
	s.last = at
	return s.times
}

// pass notes that a reading was given out.
func (p *place) pass(at int64) {
	switch {
	case p.ahead == 0 || at > p.newest:
		p.newest, p.same = at, 1
	case at == p.newest:
		p.same++
	}
	p.ahead++
	p.reach = max(p.reach, at)
}

// leaveBlock goes on to what is behind the first block.
func (s *outSeries) leaveBlock() {
	b := s.blocks[0]
	s.at.block, s.at.ahead = b.id, max(0, s.at.ahead-b.count)
	s.at.reach = max(s.at.reach, b.last)
	s.blocks, s.figures, s.opened, s.inBlock = s.blocks[1:], nil, false, nil
}

// passOver leaves a block that cannot be read.
func (s *outSeries) passOver() {
	s.pending -= max(0, s.blocks[0].count-s.at.ahead)
	s.leaveBlock()
}

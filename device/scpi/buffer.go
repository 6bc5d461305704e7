package scpi

import (
	"bytes"
	"context"
	"io"
	"time"
)

const (
	firstBuffer = 4 << 10
	// maxLine is the longest answer that is one; a line without an end is
	// garbage, not memory.
	maxLine = 64 << 10
)

// lineBuffer cuts what a Line brings into lines. Lines come in pieces, and
// several come in one piece (S-P15).
type lineBuffer struct {
	line   Line
	bareCR bool
	buf    []byte // buf[start:end] has been read and not been used
	start  int
	end    int
	// arrived is when the latest bytes came, to the microsecond.
	arrived time.Time
	// tail says that the next line is the rest of one that was given up.
	tail bool
}

// waiting is what has been read and not been used.
func (b *lineBuffer) waiting() []byte { return b.buf[b.start:b.end] }

// drop forgets what is waiting and gives back a buffer that grew large.
func (b *lineBuffer) drop() {
	b.start, b.end = 0, 0
	if len(b.buf) > maxLine {
		b.buf = make([]byte, firstBuffer)
	}
}

// fill waits for more bytes and puts them behind those that are waiting.
func (b *lineBuffer) fill(ctx context.Context) error {
	switch {
	case b.start == b.end:
		b.drop()
	case b.end == len(b.buf) && b.start > 0:
		b.end = copy(b.buf, b.waiting())
		b.start = 0
	}
	if b.end == len(b.buf) {
		b.buf = append(b.buf, make([]byte, max(firstBuffer, len(b.buf)))...)
	}
	n, err := b.read(ctx, b.buf[b.end:])
	b.end += n
	return err
}

// read passes one Read on and notes the time.
func (b *lineBuffer) read(ctx context.Context, p []byte) (int, error) {
	n, err := b.line.Read(ctx, p)
	if n > 0 {
		b.arrived = toMicrosecond(Steady.Now())
		return n, nil // an error beside bytes comes again at the next Read
	}
	if err == nil {
		return 0, io.ErrNoProgress
	}
	return 0, err
}

// toMicrosecond cuts a time to the microsecond and, unlike Time.Truncate, keeps
// its monotonic clock.
func toMicrosecond(t time.Time) time.Time {
	return t.Add(-time.Duration(t.Nanosecond() % int(time.Microsecond)))
}

// cut takes one line that ends in what is waiting from offset on; ok is false
// where none ends there. The text has no ending, is valid until the next fill
// and is empty between the two bytes of some endings.
func (b *lineBuffer) cut(offset int) (text []byte, ok bool) {
	unseen := b.waiting()[offset:]
	i := bytes.IndexByte(unseen, '\n')
	if b.bareCR {
		if j := bytes.IndexByte(unseen, '\r'); j >= 0 && (i < 0 || j < i) {
			i = j
		}
	}
	if i < 0 {
		return nil, false
	}
	text = b.waiting()[:offset+i]
	b.start += offset + i + 1
	return bytes.Trim(text, "\r"), true
}

// cutFull is cut without the empty lines: an ending that a cooked line has doubled
// (S-P11), or LF CR, leaves some.
func (b *lineBuffer) cutFull(offset int) (text []byte, ok bool) {
	text, ok = b.cut(offset)
	for ok && len(text) == 0 {
		text, ok = b.cut(0)
	}
	return text, ok
}

// next waits for a line with something in it. When it fails, what had come of a
// line is thrown away and told in the error, and so is its rest, once it comes.
func (b *lineBuffer) next(ctx context.Context, limit int) (text []byte, err error) {
	for seen := 0; ; {
		text, ok := b.cutFull(seen)
		if ok && len(text) > limit {
			return nil, garbage(text, "too long")
		}
		if ok {
			return text, nil
		}
		if seen = b.end - b.start; seen > limit {
			return nil, b.giveUp("no line end")
		}
		if err := b.fill(ctx); err != nil {
			if timedOut(err) && b.start < b.end {
				return nil, b.giveUp("half a line")
			}
			b.abandon() // the line's error says more than half a line would
			return nil, silenceIfLate(err)
		}
	}
}

// giveUp throws away the line that is waiting without its end.
func (b *lineBuffer) giveUp(why string) error {
	err := garbage(b.waiting(), why)
	b.abandon()
	return err
}

// abandon throws away the line that is waiting without its end, if there is one.
func (b *lineBuffer) abandon() {
	b.tail = b.tail || b.start < b.end
	b.drop()
}

// firstByte is the first byte that is no line end; it stays waiting.
func (b *lineBuffer) firstByte(ctx context.Context) (byte, error) {
	for {
		for ; b.start < b.end; b.start++ {
			if c := b.buf[b.start]; c != '\n' && c != '\r' {
				return c, nil
			}
		}
		if err := b.fill(ctx); err != nil {
			return 0, silenceIfLate(err)
		}
	}
}

// take reads bytes as they are: first those that are waiting, then from the line
// without copying.
func (b *lineBuffer) take(ctx context.Context, p []byte) (int, error) {
	if b.start < b.end {
		n := copy(p, b.waiting())
		b.start += n
		return n, nil
	}
	return b.read(ctx, p)
}

// restOfLine waits for the line end behind a block; what is before it should be
// nothing.
func (b *lineBuffer) restOfLine(ctx context.Context) ([]byte, error) {
	for {
		if text, ok := b.cut(0); ok {
			return text, nil
		}
		if b.end-b.start > maxLine {
			return nil, b.giveUp("no line end")
		}
		if err := b.fill(ctx); timedOut(err) {
			return nil, b.giveUp("no line end")
		} else if err != nil {
			return nil, err
		}
	}
}

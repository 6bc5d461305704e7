package ship

import (
	"time"

	"soakline/logger/book"
)

// Status is how the shipping to one target fares.
type Status struct {
	Target string
	// Address is where it goes, without parameters.
	Address string
	// Pending is how many readings the target does not have yet, Oldest when the
	// oldest of them was taken; zero if there is none.
	Pending int64
	Oldest  time.Time
	// Lines and Readings were acknowledged since the start, and Last is when that was
	// last so.
	Lines, Readings int64
	Last            time.Time
	// Unsure is how many batches were acknowledged too short ago to be relied on.
	Unsure int
	// Refused lines were set aside since the start.
	Refused int64
	// WentBack is how often what was sent last was sent again because the connection
	// had been lost.
	WentBack int64
	// BatchLines is how many lines go out at once.
	BatchLines int
	// Trouble is what holds it up, since when, and when it is tried again; empty when
	// all is well.
	Trouble      string
	Since, Again time.Time
}

// note changes the status.
func (c *carrier) note(change func(*Status)) {
	c.mu.Lock()
	defer c.mu.Unlock()
	change(&c.status)
}

// current is the status now.
func (c *carrier) current() Status {
	c.mu.Lock()
	defer c.mu.Unlock()
	return c.status
}

// pending notes what the target does not have.
func (c *carrier) pending() {
	pending := c.out.Pending() + int64(c.parcel.Readings)
	var oldest time.Time
	if us, ok := c.out.Oldest(); ok && c.parcel.Readings == 0 {
		oldest = time.UnixMicro(us)
	}
	c.note(func(s *Status) {
		s.Pending = pending
		if c.parcel.Readings == 0 || s.Oldest.IsZero() {
			s.Oldest = oldest
		}
	})
}

// delivered notes that the target has a parcel.
func (c *carrier) delivered(p book.Parcel) {
	c.well()
	unsure := len(c.underway)
	c.note(func(s *Status) {
		s.Lines += int64(len(p.Ends))
		s.Readings += int64(p.Readings)
		s.Last, s.Unsure = time.Now(), unsure
	})
}

// well notes that the engine takes lines.
func (c *carrier) well() {
	c.wait.Reset()
	c.next = time.Time{}
	c.note(func(s *Status) {
		if s.Trouble != "" {
			c.log.Info("shipping goes on", "after", time.Since(s.Since).Round(time.Second), "pending", s.Pending)
		}
		s.Trouble, s.Since, s.Again = "", time.Time{}, time.Time{}
	})
}

// troubled notes trouble; it returns true if it is not the same as before.
func (c *carrier) troubled(now time.Time, err error, again time.Time) (news bool) {
	c.note(func(s *Status) {
		news = s.Trouble != err.Error()
		if s.Trouble == "" {
			s.Since = now
		}
		s.Trouble, s.Again = err.Error(), again
	})
	return news
}

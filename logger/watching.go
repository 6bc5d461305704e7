package logger

// Watching is how many pages watch the bench, and what they missed since its
// start.
type Watching struct {
	// Open are watching now.
	Open int
	// Dropped did not read what they were sent, Refused found no room; Untold are
	// happenings that found no room with one who follows.
	Dropped, Refused, Untold uint64
}

// Watching returns how many watch the bench.
func (c *Counters) Watching() Watching {
	c.mu.Lock()
	defer c.mu.Unlock()
	return c.watching
}

// WatcherCame counts a page that watches from now on.
func (c *Counters) WatcherCame() {
	c.mu.Lock()
	defer c.mu.Unlock()
	c.watching.Open++
}

// WatcherLeft counts a page that watches no more; dropped tells that it was sent
// away because it did not read.
func (c *Counters) WatcherLeft(dropped bool) {
	c.mu.Lock()
	defer c.mu.Unlock()
	c.watching.Open--
	if dropped {
		c.watching.Dropped++
	}
}

// WatcherRefused counts one for whom there was no room.
func (c *Counters) WatcherRefused() {
	c.mu.Lock()
	defer c.mu.Unlock()
	c.watching.Refused++
}

func (c *Counters) untold() {
	c.mu.Lock()
	defer c.mu.Unlock()
	c.watching.Untold++
}

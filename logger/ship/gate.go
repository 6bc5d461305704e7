package ship

import (
	"bytes"
	"io"
	"sync"
	"time"
)

// gate lets bytes through at a bounded rate, over all requests of a target.
type gate struct {
	perSecond int

	mu sync.Mutex
	// free is when the next byte may go.
	free time.Time
}

func newGate(perSecond int) *gate { return &gate{perSecond: perSecond} }

// takes is how long n bytes take.
func (g *gate) takes(n int) time.Duration {
	if g.perSecond == 0 {
		return 0
	}
	return slice + time.Duration(float64(n)/float64(g.perSecond)*float64(time.Second))
}

// reader reads data at the gate's rate. It cannot be rewound, and its type does not
// tell otherwise.
func (g *gate) reader(data []byte) io.Reader {
	if g.perSecond == 0 {
		return struct{ io.Reader }{bytes.NewReader(data)}
	}
	return &gated{gate: g, from: bytes.NewReader(data)}
}

// gated is data on its way through a gate.
type gated struct {
	gate *gate
	from io.Reader
}

// slice is for how long bytes go at once, and so the longest that a Read waits.
const slice = 50 * time.Millisecond

// Read waits until the rate allows some bytes.
func (r *gated) Read(p []byte) (int, error) {
	g := r.gate
	g.mu.Lock()
	defer g.mu.Unlock()
	if wait := time.Until(g.free); wait > 0 {
		<-time.After(wait)
	}
	most := max(1, int(float64(g.perSecond)*slice.Seconds()))
	n, err := r.from.Read(p[:min(len(p), most)])
	g.free = time.Now().Add(time.Duration(float64(n) / float64(g.perSecond) * float64(time.Second)))
	return n, err
}

package drift

import (
	"fmt"
	"math"
	"math/rand/v2"
	"runtime"
	"sync"
	"testing"
)

// noise makes readings of standard deviation 1 without drift.
type noise struct {
	name string
	// phi is the autocorrelation of neighbouring readings of the wandering part,
	// white the share of independent noise in the variance.
	phi, white float64
}

// readings fills v; the wandering part begins in its stationary state.
func (n noise) readings(v []float64, random *rand.Rand) {
	wander, push := random.NormFloat64(), math.Sqrt(1-n.phi*n.phi)
	a, b := math.Sqrt(1-n.white), math.Sqrt(n.white)
	for i := range v {
		wander = n.phi*wander + push*random.NormFloat64()
		v[i] = a * wander
		if n.white > 0 {
			v[i] += b * random.NormFloat64()
		}
	}
}

// soakSettings are those of all simulated soaks: a reading every 10 s, a standard
// deviation of 1 % of the limit band, which is 100 wide.
const (
	soakEvery = 10.0
	bandWide  = 100.0
)

func soakOptions() Options {
	low, high := -bandWide/2, bandWide/2
	return Options{LowLimit: &low, HighLimit: &high}
}

// soaks runs many simulated soaks and returns when each first alarmed, in hours
// after driftFrom; NaN for never. perHour is a drift in percent of the band.
func soaks(many int, n noise, hours, driftFrom, perHour float64) []float64 {
	first := make([]float64, many)
	var workers sync.WaitGroup
	for worker := range runtime.GOMAXPROCS(0) {
		workers.Go(func() {
			v := make([]float64, int(hours*3600/soakEvery))
			for soak := worker; soak < many; soak += runtime.GOMAXPROCS(0) {
				n.readings(v, rand.New(rand.NewPCG(uint64(soak), 20)))
				first[soak] = oneSoak(v, driftFrom, perHour)
			}
		})
	}
	workers.Wait()
	return first
}

func oneSoak(v []float64, driftFrom, perHour float64) float64 {
	s := newSeries(soakOptions())
	for i, x := range v {
		hours := float64(i) * soakEvery / 3600
		x += perHour * max(0, hours-driftFrom)
		if s.add(hours*3600, x)&(RaisedEWMA|RaisedCUSUM) != 0 {
			return hours - driftFrom
		}
	}
	return math.NaN()
}

// alarmed counts alarms up to some hours after the drift began; early ones too.
func alarmed(first []float64, within float64) int {
	n := 0
	for _, hours := range first {
		if hours <= within {
			n++
		}
	}
	return n
}

func TestTune(t *testing.T) {
	{
		for _, n := range []noise{{"white", 0, 0}, {"0.3", .3, 0}, {"0.5", .5, 0}, {"0.7", .7, 0}, {"0.8", .8, 0}, {"0.9", .9, 0}, {"0.95", .95, 0}, {"0.99", .99, 0}, {"0.9+white", .9, .5}, {"0.95+white", .95, .5}, {"0.99+.8white", .99, .8}} {
			many := 2000
			f := alarmed(soaks(many, n, 24, 24, 0), 24)
			d := alarmed(soaks(many, n, 4, 0, 0.5), 4)
			l := alarmed(soaks(many, n, 12, 8, -0.5), 4)
			m := alarmed(soaks(many, n, 24, 20, -0.5), 4)
			fmt.Printf("%-12s false %5.2f %%  found %5.1f %%  found later %5.1f %%  at 20 h %5.1f %%\n", n.name, 100*float64(f)/float64(many), 100*float64(d)/float64(many), 100*float64(l)/float64(many), 100*float64(m)/float64(many))
		}
	}
}

package drift

import (
	"math"
	"math/rand/v2"
	"slices"
	"testing"

	"pgregory.net/rapid"
)

func figures(rt *rapid.T, least int) []float64 {
	return rapid.SliceOfN(rapid.Float64Range(-1e6, 1e6), least, 200).Draw(rt, "values")
}

func TestStreamDoesNotMindTheOrder(t *testing.T) {
	rapid.Check(t, func(rt *rapid.T) {
		v := figures(rt, 2)
		var forward, sorted Stream
		for _, x := range v {
			forward.Add(x)
		}
		slices.Sort(v)
		for _, x := range v {
			sorted.Add(x)
		}
		scale := max(math.Abs(v[0]), math.Abs(v[len(v)-1]))
		if math.Abs(forward.Mean()-sorted.Mean()) > 1e-14*scale || math.Abs(forward.SD()-sorted.SD()) > 1e-13*scale {
			rt.Errorf("mean %v and %v, sd %v and %v", forward.Mean(), sorted.Mean(), forward.SD(), sorted.SD())
		}
	})
}

func TestStreamAgreesWithTwoPasses(t *testing.T) {
	rapid.Check(t, func(rt *rapid.T) {
		v := figures(rt, 2)
		var s Stream
		sum := 0.0
		for _, x := range v {
			s.Add(x)
			sum += x
		}
		m := sum / float64(len(v))
		squares, products := 0.0, 0.0
		for i, x := range v {
			squares += (x - m) * (x - m)
			if i > 0 {
				products += (x - m) * (v[i-1] - m)
			}
		}
		if squares < 1e-6 {
			return // equal values: two passes see rounding only
		}
		if math.Abs(s.deviations()-squares) > 1e-9*squares+1e-9 || math.Abs(s.Lag1()-products/squares) > 1e-7 {
			rt.Errorf("squares %v, want %v; lag-1 %v, want %v", s.deviations(), squares, s.Lag1(), products/squares)
		}
	})
}

// TestSlopesShiftAndScale: whatever is added to all values leaves every slope; a
// factor goes through; time turned round turns the sign.
func TestSlopesShiftAndScale(t *testing.T) {
	rapid.Check(t, func(rt *rapid.T) {
		v := figures(rt, 4)
		shift := rapid.Float64Range(-1e6, 1e6).Draw(rt, "shift")
		factor := rapid.Float64Range(-100, 100).Draw(rt, "factor")
		times := make([]float64, len(v))
		moved, back := make([]float64, len(v)), make([]float64, len(v))
		for i := range v {
			times[i] = float64(i)
			moved[i] = factor*v[i] + shift
			back[len(v)-1-i] = v[i]
		}
		for name, slope := range map[string]func(t, v []float64) float64{
			"least squares": func(t, v []float64) float64 { s, _ := SlopeOf(t, v, 0.95); return s.PerSecond },
			"median":        func(t, v []float64) float64 { s, _ := TheilSenOf(t, v, 0.95); return s.PerSecond },
		} {
			one := slope(times, v)
			if got := slope(times, moved); math.Abs(got-factor*one) > 1e-6 {
				rt.Errorf("%s: %v, want %v", name, got, factor*one)
			}
			if got := slope(times, back); math.Abs(got+one) > 1e-6 {
				rt.Errorf("%s: %v backwards, want %v", name, got, -one)
			}
		}
		if a, b := MannKendallOf(v), MannKendallOf(back); a.S != -b.S || a.P != b.P {
			rt.Errorf("rank test %+v, backwards %+v", a, b)
		}
	})
}

// TestAlarmsShiftAndScale: a record in millivolts, or on another zero, alarms at the
// same readings. Values are whole numbers and the factor a power of two, so that
// rounding has no part in it.
func TestAlarmsShiftAndScale(t *testing.T) {
	rapid.Check(t, func(rt *rapid.T) {
		seed := rapid.Uint64().Draw(rt, "seed")
		perReading := rapid.Float64Range(-1, 1).Draw(rt, "drift")
		shift := float64(rapid.IntRange(-1e6, 1e6).Draw(rt, "shift"))
		factor := math.Ldexp(1, rapid.IntRange(-10, 10).Draw(rt, "power"))
		random := rand.New(rand.NewPCG(seed, 1))
		var times, v, moved []float64
		for i := range 1000 {
			x := math.Round(100*random.NormFloat64() + perReading*float64(i))
			times, v, moved = append(times, float64(i)), append(v, x), append(moved, factor*(x+shift))
		}
		a, errA := Analyse(times, v, Options{})
		b, errB := Analyse(times, moved, Options{})
		if errA != nil || errB != nil {
			rt.Fatal(errA, errB)
		}
		same := func(x, y float64) bool { return x == y || math.IsNaN(x) && math.IsNaN(y) }
		if !same(a.EWMAAlarmAt, b.EWMAAlarmAt) || !same(a.CUSUMAlarmAt, b.CUSUMAlarmAt) {
			rt.Errorf("alarms at %v and %v, moved at %v and %v", a.EWMAAlarmAt, a.CUSUMAlarmAt, b.EWMAAlarmAt, b.CUSUMAlarmAt)
		}
		if math.Abs(b.SD-factor*a.SD) > 1e-12*b.SD || math.Abs(b.SlopePerHour-factor*a.SlopePerHour) > 1e-9*math.Abs(b.SlopePerHour) {
			rt.Errorf("sd %v and %v, slope %v and %v", a.SD, b.SD, a.SlopePerHour, b.SlopePerHour)
		}
	})
}

// TestBatchesKeepTheMean: however long the record, full batches hold all readings but
// the last few, once each.
func TestBatchesKeepTheMean(t *testing.T) {
	rapid.Check(t, func(rt *rapid.T) {
		n := rapid.IntRange(1, 9000).Draw(rt, "n")
		most := rapid.IntRange(1, MaxBatches).Draw(rt, "most")
		var b Batches
		for i := range n {
			b.Add(float64(i), float64(i))
		}
		times, v, size := b.Means(most)
		if len(v) > most || len(v)*size > n || n <= MaxBatches && most == MaxBatches && n < MaxBatches && size != 1 {
			rt.Fatalf("%d batches of %d from %d readings", len(v), size, n)
		}
		for i := range v {
			if want := float64(i*size) + float64(size-1)/2; v[i] != want || times[i] != want {
				rt.Fatalf("batch %d: %v at %v, want %v", i, v[i], times[i], want)
			}
		}
	})
}

// FuzzAnalyse: whatever a record holds, every figure is a number or not known, and the
// intervals are the right way round.
func FuzzAnalyse(f *testing.F) {
	f.Add(int64(1), uint16(200), 1.0, 0.5)
	f.Add(int64(2), uint16(3), math.Inf(1), math.NaN())
	f.Add(int64(3), uint16(600), 1e100, -1e99)
	f.Add(int64(4), uint16(900), 0.0, 0.0)
	f.Fuzz(func(t *testing.T, seed int64, n uint16, step, scale float64) {
		random := rand.New(rand.NewPCG(uint64(seed), 0))
		times, v := make([]float64, n%1024), make([]float64, n%1024)
		for i := range v {
			times[i], v[i] = float64(i)*step, scale*random.NormFloat64()
		}
		r, err := Analyse(times, v, Options{LowLimit: pointer(-1), HighLimit: pointer(1)})
		if err != nil {
			t.Fatal(err)
		}
		if r.SlopeLow > r.SlopeHigh || r.HoursToLimitLow > r.HoursToLimitHigh || r.SD < 0 || r.MannKendallP < 0 || r.MannKendallP > 1 {
			t.Errorf("%+v", r)
		}
		if r.N+r.Refused.NotFinite+r.Refused.Backward+r.Refused.WarmUp != len(v) {
			t.Errorf("%d readings, %d used, refused %+v", len(v), r.N, r.Refused)
		}
		if _, err := r.MarshalJSON(); err != nil {
			t.Error(err)
		}
	})
}

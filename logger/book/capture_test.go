package book

import (
	"context"
	"errors"
	"math"
	"math/rand/v2"
	"testing"

	"github.com/google/go-cmp/cmp"

	"soakline/device"
)

// scopeRecord is what an 8-bit scope sends: n samples on 256 levels.
func scopeRecord(n int) device.Capture {
	c := device.Capture{
		Volts: make([]float64, n), SampleIntervalSeconds: 0.7e-9, StepVolts: 0.007, LowVolts: -0.9, HighVolts: 0.9, Coupling: "dc", At: begin,
	}
	noise := rand.New(rand.NewPCG(8, 8))
	for i := range c.Volts {
		code := math.Round(100*math.Sin(float64(i)/40) + 3*noise.NormFloat64())
		c.Volts[i] = code*0.007 + 0.0013
	}
	return c
}

func captures() map[string]device.Capture {
	ramp := device.Capture{Volts: make([]float64, 70000), SampleIntervalSeconds: 1e-6, At: begin}
	for i := range ramp.Volts {
		ramp.Volts[i] = 1 / float64(i+1)
	}
	twelveBit := device.Capture{Volts: make([]float64, 9000), At: begin, Coupling: "ac"}
	for i := range twelveBit.Volts {
		twelveBit.Volts[i] = float64(i%4096) * 0.1
	}
	return map[string]device.Capture{
		"8 bit": scopeRecord(10000), "12 bit": twelveBit, "float": ramp,
		"one sample": {Volts: []float64{math.Copysign(0, -1)}, At: begin},
		"odd floats": {Volts: []float64{math.NaN(), math.Inf(-1), 0, math.Copysign(0, -1), 5e-324}, At: begin},
		"empty":      {Volts: []float64{}, At: begin},
	}
}

func TestCapturesComeBackExactly(t *testing.T) {
	b, soak := soaked(t)
	round, err := b.BeginRound(t.Context(), aRound("as received"))
	must(t, err)
	for name, want := range captures() {
		id, err := b.AddCapture(t.Context(), KeptCapture{Soak: soak, TestPoint: "composite", Instrument: "scope", Kind: CaptureBegin}, want)
		must(t, err)
		got, err := b.Capture(t.Context(), id)
		if diff := cmp.Diff(want, got, sameBits); err != nil || diff != "" {
			t.Errorf("%s: %v %s", name, err, diff)
		}
	}
	about := KeptCapture{Round: round, TestPoint: "composite", Instrument: "scope", Kind: CaptureRound}
	about.ID, err = b.AddCapture(t.Context(), about, scopeRecord(123))
	must(t, err)
	about.At, about.Samples = begin, 123
	listed, err := b.RoundCaptures(t.Context(), round)
	if diff := cmp.Diff([]KeptCapture{about}, listed); err != nil || diff != "" {
		t.Error(err, diff)
	}
	if listed, err := b.SoakCaptures(t.Context(), soak); err != nil || len(listed) != len(captures()) {
		t.Errorf("%d captures of the soak (%v)", len(listed), err)
	}
}

// TestCaptureIsSmall: a sample of an 8-bit scope takes less than a byte.
func TestCaptureIsSmall(t *testing.T) {
	if packed := packCapture(scopeRecord(100000)); len(packed) > 75000 {
		t.Errorf("100000 samples on 256 levels take %d bytes", len(packed))
	}
}

func TestUnpackRefuses(t *testing.T) {
	whole := packCapture(scopeRecord(1000))
	flipped := append([]byte(nil), whole...)
	flipped[len(flipped)/2] ^= 1
	zeros := make([]byte, 36)
	for name, packed := range map[string][]byte{
		"nothing": nil, "no frame": []byte("SELECT"), "cut": whole[:len(whole)-5], "one bit": flipped,
		"too short":    encoder().EncodeAll([]byte{1, 2, 3}, nil),
		"no form":      encoder().EncodeAll(zeros, nil),
		"trailing":     encoder().EncodeAll(append([]byte{8}, zeros...), nil),
		"no palette":   encoder().EncodeAll(append(append([]byte{1}, zeros[:34]...), 1, 0), nil),
		"many samples": encoder().EncodeAll(append(append([]byte{8}, zeros[:34]...), 0xff, 0xff, 0xff, 0xff, 0xff, 0xff, 0xff, 0xff, 0x7f), nil),
	} {
		if c, err := unpackCapture(packed); !errors.Is(err, errPacked) {
			t.Errorf("%s gave %d samples, %v", name, len(c.Volts), err)
		}
	}
}

func FuzzUnpackCapture(f *testing.F) {
	short, err := decoder().DecodeAll(packCapture(scopeRecord(30)), nil)
	must(f, err)
	f.Add(short)
	for _, c := range captures() {
		if len(c.Volts) <= 10 {
			raw, err := decoder().DecodeAll(packCapture(c), nil)
			must(f, err)
			f.Add(raw)
		}
	}
	f.Fuzz(func(t *testing.T, raw []byte) {
		c, err := unpackCapture(encoder().EncodeAll(raw, nil))
		if err != nil {
			return
		}
		back, err := unpackCapture(packCapture(c))
		if diff := cmp.Diff(c, back, sameBits); err != nil || diff != "" {
			t.Fatal(err, diff)
		}
	})
}

func BenchmarkPackCapture(b *testing.B) {
	record := scopeRecord(100000)
	b.SetBytes(int64(8 * len(record.Volts)))
	for b.Loop() {
		packCapture(record)
	}
	b.ReportMetric(float64(len(packCapture(record)))/float64(len(record.Volts)), "B/sample")
}

// TestCapturesOfTheNextCommit: what a writer takes is in the book after a flush,
// sample by sample; what belongs to nobody is refused at once, what belongs to a
// soak that there is not when it is written, without keeping others waiting.
func TestCapturesOfTheNextCommit(t *testing.T) {
	b, soak := soaked(t)
	var refused []error
	w := NewWriter(b, WriterOptions{Committed: func(c Commit) { refused = append(refused, c.Refused...) }})
	ctx, stop := context.WithCancel(t.Context())
	ended := make(chan error, 1)
	go func() { ended <- w.Run(ctx) }()
	must(t, w.PutCapture(KeptCapture{Soak: soak + 1, TestPoint: "composite", Kind: CaptureTimed}, scopeRecord(10)))
	must(t, w.PutCapture(KeptCapture{Soak: soak, TestPoint: "composite", Instrument: "scope", Kind: CaptureChange}, scopeRecord(5000)))
	for _, about := range []KeptCapture{{TestPoint: "composite"}, {Soak: soak, Round: 1, TestPoint: "composite"}} {
		if err := w.PutCapture(about, scopeRecord(10)); !errors.Is(err, ErrInvalid) {
			t.Errorf("%+v: %v, want %v", about, err, ErrInvalid)
		}
	}
	must(t, w.Flush(t.Context()))
	stop()
	must(t, <-ended)
	listed, err := b.SoakCaptures(t.Context(), soak)
	if err != nil || len(listed) != 1 || listed[0].Kind != CaptureChange || len(refused) != 1 {
		t.Fatalf("listed %v (%v), refused %v", listed, err, refused)
	}
	got, err := b.Capture(t.Context(), listed[0].ID)
	if diff := cmp.Diff(scopeRecord(5000), got, sameBits); err != nil || diff != "" {
		t.Error(err, diff)
	}
}

package ship

import (
	"bytes"
	"context"
	"fmt"
	"log/slog"
	"math"
	"math/rand/v2"
	"os"
	"path/filepath"
	"strconv"
	"testing"
	"time"

	"github.com/influxdata/line-protocol/v2/lineprotocol"

	"soakline/checks"
	"soakline/device"
	"soakline/device/scpi"
	"soakline/logger/book"
)

// seconds is how long a test of endurance takes; SOAKLINE_SHIP_SECONDS=60 is the
// long form.
func seconds(t testing.TB, few int) time.Duration {
	t.Helper()
	if text := os.Getenv("SOAKLINE_SHIP_SECONDS"); text != "" {
		n, err := strconv.Atoi(text)
		if err != nil {
			t.Fatal(err)
		}
		few = n
	}
	return time.Duration(few) * time.Second
}

func must(t testing.TB, err error) {
	t.Helper()
	if err != nil {
		t.Fatal(err)
	}
}

func openBook(t testing.TB) *book.Book {
	t.Helper()
	b, err := book.Open(t.Context(), filepath.Join(t.TempDir(), "bench.book"), book.Options{Program: "soakline test"})
	must(t, err)
	t.Cleanup(func() { must(t, b.Close()) })
	return b
}

// reading is the i-th of a bench that reads 20 test points in turn: digits as an
// instrument sends them, times on the millisecond.
func reading(t testing.TB, i int, at time.Time) book.TaggedReading {
	t.Helper()
	tag := book.Tag{Bench: "pier-end", Console: "Brambling 8", Unit: "B8-0147", TestPoint: checks.TestPointName(fmt.Sprintf("rail %d,=", i%20)),
		Instrument: "meter", Measure: device.DCVoltage}
	d, err := scpi.ParseDecimal(fmt.Sprintf("%d.%05d", 4+i%2, i*7919%100_000))
	must(t, err)
	return book.TaggedReading{Tag: tag, Reading: device.Reading{Measure: tag.Measure, Value: d.Float64(), Digits: d, At: at.Truncate(time.Millisecond)}}
}

// running runs something until the returned function has ended it.
func running(t testing.TB, run func(context.Context) error) (stop func()) {
	ctx, cancel := context.WithCancel(context.WithoutCancel(t.Context()))
	done := make(chan error, 1)
	go func() { done <- run(ctx) }()
	ended := false
	stop = func() {
		if ended {
			return
		}
		ended = true
		cancel()
		must(t, <-done)
	}
	t.Cleanup(stop)
	return stop
}

// target is an engine as a target, quick enough for a test.
func target(e string) Target {
	return Target{Name: "store", URL: e, Every: 200 * time.Millisecond, BatchLines: DefaultBatchLines, Timeout: 5 * time.Second, Resend: 8 * time.Second}
}

func quiet() *slog.Logger { return slog.New(slog.DiscardHandler) }

// quick makes the waiting after trouble short.
func quick(s *Shipper) *Shipper {
	for _, c := range s.carriers {
		c.wait.InitialInterval, c.wait.MaxInterval = 10*time.Millisecond, 500*time.Millisecond
	}
	return s
}

// TestEngineKilled has real engines killed and started again at random while 2,000
// readings/s are shipped: afterwards each reading is there once, as in the book.
func TestEngineKilled(t *testing.T) {
	for name, begin := range engines {
		t.Run(name, func(t *testing.T) {
			t.Parallel()
			seed := uint64(time.Now().UnixNano())
			t.Logf("seed %d", seed)
			chance := rand.New(rand.NewPCG(seed, 0))
			e, b := begin(t), openBook(t)
			writer := book.NewWriter(b, book.WriterOptions{CommitEvery: 250 * time.Millisecond})
			stopWriter := running(t, writer.Run)
			shipper := quick(New(b, []Target{target(e.write)}, quiet()))
			stop := running(t, shipper.Run)
			long := seconds(t, 12)
			stopFeeding := running(t, func(ctx context.Context) error { return feed(ctx, t, writer) })
			kills, end := 0, time.After(long)
			for going := true; going; {
				select {
				case <-end:
					going = false
				case <-time.After(time.Duration(500+chance.IntN(3500)) * time.Millisecond):
					e.kill(t)
					kills++
					<-time.After(time.Duration(chance.IntN(1500)) * time.Millisecond)
					e.start(t)
				}
			}
			stopFeeding()
			stopWriter()
			waitFor(t, "all to be shipped", func() bool {
				s := shipper.Status()[0]
				return s.Pending == 0 && s.Unsure == 0 && s.Trouble == "" && s.Readings > 0
			})
			stop() // which looks once more
			s := shipper.Status()[0]
			n := compare(t, b, e)
			t.Logf("%d kills in %s, %d readings, each there once; %d lines sent, %d times back", kills, long, n, s.Lines, s.WentBack)
			if kills == 0 || n < int(long.Seconds()*2000*0.8) {
				t.Errorf("%d kills, %d readings: this tried nothing", kills, n)
			}
		})
	}
}

// feed appends 2,000 readings/s until the context ends.
func feed(ctx context.Context, t testing.TB, w *book.Writer) error {
	ticker := time.NewTicker(10 * time.Millisecond)
	defer ticker.Stop()
	begin := time.Now()
	for i := 0; ; {
		select {
		case <-ctx.Done():
			return nil
		case now := <-ticker.C:
			for ; i < int(now.Sub(begin).Seconds()*2000); i++ {
				at := begin.Add(time.Duration(i) * 500 * time.Microsecond)
				if err := w.Append(reading(t, i, at)); err != nil {
					return err
				}
			}
		}
	}
}

// compare holds what the engine has against the lines of the book, to the last
// digit, and returns how many readings there are.
func compare(t testing.TB, b *book.Book, e *engine) int {
	t.Helper()
	got := e.points(t, e)
	n := 0
	for series, want := range bookPoints(t, b) {
		n += len(want)
		if len(got[series]) != len(want) {
			t.Errorf("%s: %d points, the book has %d", series, len(got[series]), len(want))
		}
		for at, value := range want {
			there, ok := got[series][at]
			f, err := strconv.ParseFloat(string(there), 64)
			if !ok || err != nil || math.Float64bits(f) != math.Float64bits(value) {
				t.Fatalf("%s at %d: %q (%t), the book has %v", series, at, there, ok, value)
			}
		}
		delete(got, series)
	}
	if len(got) > 0 {
		t.Errorf("%d series that the book has not", len(got))
	}
	return n
}

// bookPoints reads the book's export with the published decoder.
func bookPoints(t testing.TB, b *book.Book) map[string]map[int64]float64 {
	t.Helper()
	var text bytes.Buffer
	_, err := b.ExportLines(t.Context(), &text, book.Filter{})
	must(t, err)
	return pointsOf(t, text.Bytes())
}

// pointsOf takes lines apart.
func pointsOf(t testing.TB, text []byte) map[string]map[int64]float64 {
	t.Helper()
	all := map[string]map[int64]float64{}
	d := lineprotocol.NewDecoderWithBytes(text)
	for d.Next() {
		_, err := d.Measurement()
		must(t, err)
		tags := map[string]string{}
		for {
			key, value, err := d.NextTag()
			must(t, err)
			if key == nil {
				break
			}
			tags[string(key)] = string(value)
		}
		fields := map[string]float64{}
		for {
			key, value, err := d.NextField()
			must(t, err)
			if key == nil {
				break
			}
			fields[string(key)] = value.FloatV()
		}
		at, err := d.Time(lineprotocol.Nanosecond, time.Time{})
		must(t, err)
		for name, value := range fields {
			key := seriesKey(tags) + " " + name
			if all[key] == nil {
				all[key] = map[int64]float64{}
			}
			all[key][at.UnixNano()] = value
		}
	}
	return all
}

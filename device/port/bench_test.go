package port

import (
	"context"
	"io"
	"testing"

	"go.bug.st/serial"
)

// BenchmarkSP29QuestionAndAnswer is one READ? and its 16-byte answer over a
// pseudo-terminal: through this package, through its fallback, and through the
// library alone (34 to 70 µs).
func BenchmarkSP29QuestionAndAnswer(b *testing.B) {
	for name, open := range map[string]func(testing.TB, string) *Port{"port": openOwn, "port/fallback": openLibrary} {
		b.Run(name, func(b *testing.B) {
			c := newCable(b)
			p := open(b, c.Path())
			c.Answer(answer)
			// As the conversation above does it: a deadline for each question.
			converse(b, func(q []byte) error {
				return p.Write(b.Context(), q)
			}, func(a []byte) (int, error) {
				ctx, cancel := context.WithTimeout(b.Context(), patience)
				defer cancel()
				return p.Read(ctx, a)
			})
		})
	}
	b.Run("library", func(b *testing.B) {
		c := newCable(b)
		lib, err := serial.Open(c.Path(), plain.mode())
		if err != nil {
			b.Fatal(err)
		}
		defer lib.Close()
		c.Answer(answer)
		converse(b, func(q []byte) error {
			_, err := lib.Write(q)
			return err
		}, lib.Read)
	})
}

// patience is far beyond any round trip.
const patience = 1 << 33

func answer(string) string { return "+1.00213000E-03\n" }

func converse(b *testing.B, write func([]byte) error, read func([]byte) (int, error)) {
	b.Helper()
	question, reply := []byte("READ?\n"), make([]byte, 64)
	b.ReportAllocs()
	for b.Loop() {
		if err := write(question); err != nil {
			b.Fatal(err)
		}
		for n := 0; n == 0 || reply[n-1] != '\n'; {
			got, err := read(reply[n:])
			if err != nil {
				b.Fatal(err)
			}
			n += got
		}
	}
}

// BenchmarkSP29Stream is the rate at which lines of a talk-only instrument come
// through, in bytes (69 to 174 MB/s).
func BenchmarkSP29Stream(b *testing.B) {
	c := newCable(b)
	p := openOwn(b, c.Path())
	block := make([]byte, 1600)
	done := make(chan struct{})
	stop := make(chan struct{})
	go func() {
		defer close(done)
		for {
			select {
			case <-stop:
				return
			default:
				c.Send(string(block))
			}
		}
	}()
	b.SetBytes(int64(len(block)))
	for b.Loop() {
		for n := 0; n < len(block); {
			got, err := p.Read(b.Context(), block[n:])
			if err != nil {
				b.Fatal(err)
			}
			n += got
		}
	}
	close(stop)
	// The sender may be held up by a full line: take what is there until it ends.
	for waste := make([]byte, 4096); ; {
		select {
		case <-done:
			return
		default:
			ctx, cancel := context.WithTimeout(b.Context(), slice)
			if _, err := p.Read(ctx, waste); err == io.EOF {
				b.Error(err)
			}
			cancel()
		}
	}
}

package port

import (
	"bytes"
	"context"
	"errors"
	"os"
	"path/filepath"
	"sync"
	"testing"

	"soakline/device/port/porttest"
)

func TestAllByteValuesPassUnchanged(t *testing.T) {
	eachWay(t, func(t *testing.T, c *porttest.Cable, p *Port) {
		var all []byte
		for i := range 256 {
			all = append(all, byte(i))
		}
		c.Send(string(all))
		readAll(t, p, string(all))
		if err := p.Write(t.Context(), append(all, '\n')); err != nil {
			t.Fatal(err)
		}
		got := make([]byte, 0, 257)
		for b := make([]byte, 64); len(got) < 257; {
			n, err := c.Read(b)
			if err != nil {
				t.Fatal(err)
			}
			got = append(got, b[:n]...)
		}
		if !bytes.Equal(got[:256], all) {
			t.Errorf("the far end got % x", got)
		}
	})
}

func TestSP18WriteNobodyTakes(t *testing.T) {
	eachWay(t, func(t *testing.T, c *porttest.Cable, p *Port) {
		err := p.Write(soon(t), make([]byte, 1<<20))
		wantKind(t, err, KindTimeout)
		if !errors.Is(err, context.DeadlineExceeded) {
			t.Errorf("%v is no context.DeadlineExceeded", err)
		}
		// The next Write ends as well, and the plug frees whatever still hangs:
		// the package's tests end with a look for goroutines.
		wantKind(t, p.Write(soon(t), make([]byte, 1<<20)), KindTimeout)
		c.Pull()
	})
}

func TestSP18CloseEndsABlockedWrite(t *testing.T) {
	eachWay(t, func(t *testing.T, c *porttest.Cable, p *Port) {
		started, done := make(chan struct{}), make(chan error, 1)
		go func() {
			close(started)
			done <- p.Write(t.Context(), make([]byte, 1<<20))
		}()
		<-started
		// The first bytes are on their way, the rest cannot follow.
		if _, err := c.Read(make([]byte, 1)); err != nil {
			t.Fatal(err)
		}
		if err := p.Close(); err != nil {
			t.Error(err)
		}
		wantKind(t, <-done, KindClosed)
	})
}

func TestSP18WriteGoesOnWhenThePeerReads(t *testing.T) {
	eachWay(t, func(t *testing.T, c *porttest.Cable, p *Port) {
		const size = 100_000
		done := make(chan error, 1)
		go func() { done <- p.Write(t.Context(), bytes.Repeat([]byte{'x'}, size)) }()
		for got, b := 0, make([]byte, 4096); got < size; {
			n, err := c.Read(b)
			if err != nil {
				t.Fatal(err)
			}
			got += n
		}
		if err := <-done; err != nil {
			t.Error(err)
		}
	})
}

// The last message may be the one that switches an output off.
func TestCloseKeepsWhatWasWritten(t *testing.T) {
	ended, cancel := context.WithCancel(t.Context())
	cancel()
	eachWay(t, func(t *testing.T, c *porttest.Cable, p *Port) {
		if err := p.Write(t.Context(), []byte("OUTPut OFF\n")); err != nil {
			t.Fatal(err)
		}
		wantKind(t, p.Write(ended, []byte("no\n")), KindCanceled)
		if err := p.Close(); err != nil {
			t.Fatal(err)
		}
		if got := c.ReadLine(); got != "OUTPut OFF\n" {
			t.Errorf("the far end got %q", got)
		}
	})
}

func TestSP19CloseRacesARead(t *testing.T) {
	for name, open := range ways {
		t.Run(name, func(t *testing.T) {
			c := newCable(t)
			for range 50 {
				p := open(t, c.Path())
				var ends sync.WaitGroup
				var err error
				ends.Go(func() { _, err = p.Read(t.Context(), make([]byte, 8)) })
				ends.Go(func() {
					if err := p.Close(); err != nil {
						t.Error(err)
					}
				})
				ends.Wait()
				wantKind(t, err, KindClosed)
				if err := p.Close(); err != nil {
					t.Errorf("second close: %v", err)
				}
			}
		})
	}
}

// After Close the descriptor's number goes to the next file that is opened.
func TestSP20UseAfterCloseReachesNoOtherFile(t *testing.T) {
	eachWay(t, func(t *testing.T, c *porttest.Cable, p *Port) {
		if err := p.Close(); err != nil {
			t.Fatal(err)
		}
		var files []*os.File
		for range 8 {
			f, err := os.Create(filepath.Join(t.TempDir(), "other"))
			if err != nil {
				t.Fatal(err)
			}
			defer f.Close()
			files = append(files, f)
		}
		wantKind(t, p.Write(t.Context(), []byte("READ?\n")), KindClosed)
		_, err := p.Read(t.Context(), make([]byte, 8))
		wantKind(t, err, KindClosed)
		wantKind(t, p.Discard(), KindClosed)
		for _, f := range files {
			if info, err := f.Stat(); err != nil || info.Size() != 0 {
				t.Errorf("%d bytes went into another file, %v", info.Size(), err)
			}
		}
	})
}

package simbench

import (
	"context"
	"errors"
	"io"
	"os"
	"strconv"
	"time"
)

// talk sends a line every interval until the connection ends. What nobody reads
// is lost once the line is full, as on a real one.
func (in *instrument) talk(ctx context.Context, conn io.ReadWriter, incoming <-chan message) error {
	own := in.config.Talker
	interval := time.Duration(own.IntervalS * float64(time.Second))
	ticker := time.NewTicker(interval)
	defer ticker.Stop()
	for {
		select {
		case <-ctx.Done():
			return ctx.Err()
		case _, ok := <-incoming:
			if !ok {
				return nil
			}
		case <-ticker.C:
			if err := in.say(conn, interval); err != nil {
				return err
			}
		}
	}
}

// say sends one line, unless silence is on; slow leaves lines out.
func (in *instrument) say(conn io.ReadWriter, interval time.Duration) error {
	now := in.now()
	if in.faults.take("silence", now) || in.skips(now) {
		return nil
	}
	if c, ok := conn.(connection); ok {
		// A write into a full line gives up, and the rest of it is lost.
		if err := c.SetWriteDeadline(time.Now().Add(interval)); err != nil {
			return err
		}
	}
	err := in.send(conn, in.line(now))
	if errors.Is(err, os.ErrDeadlineExceeded) {
		return nil
	}
	return err
}

// skips lets only every so many lines through while slow is on.
func (in *instrument) skips(now float64) bool {
	if !in.faults.active("slow", now) {
		return false
	}
	stretched := in.faults.stretch(time.Second, now).Seconds()
	in.skipped++
	if float64(in.skipped) < stretched {
		return true
	}
	in.skipped = 0
	return false
}

// line is the text of one reading.
func (in *instrument) line(now float64) []byte {
	own := in.config.Talker
	v := make([]float64, 1)
	in.wire(in.config.Wiring[0].Channel).fill(v, now, 0)
	text := strconv.FormatFloat(v[0]+own.NoiseRMS*in.chance.NormFloat64(), 'f', own.Decimals, 64)
	return []byte(own.Prefix + string(in.faults.overflow([]byte(text), now)) + own.Suffix)
}

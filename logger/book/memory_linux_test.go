package book

import (
	"context"
	"fmt"
	"os"
	"path/filepath"
	"regexp"
	"strconv"
	"strings"
	"testing"
)

// sayMemory prints the most memory that this program has had, in kB: the floor, which
// every Go program with the same code has.
func sayMemory(string, int) error {
	text, err := os.ReadFile("/proc/self/status")
	if err != nil {
		return err
	}
	most := regexp.MustCompile(`VmHWM:\s+(\d+) kB`).FindSubmatch(text)
	if most == nil {
		return fmt.Errorf("no VmHWM in %s", text)
	}
	fmt.Println(string(most[1]))
	return nil
}

// workAndSayMemory appends so many readings of the workload, queries them in every way
// that a page does, and streams them all.
func workAndSayMemory(path string, readings int) error {
	ctx := context.Background()
	b, err := Open(ctx, path, Options{Program: "soakline test"})
	if err != nil {
		return err
	}
	w, j := newWorkload(1), newJournal()
	batched := make([]TaggedReading, batchSize) // what is read is not the book's to keep
	for range readings / batchSize {
		if _, err := b.store(ctx, &batch{readings: w.readInto(batched)}, j); err != nil {
			return err
		}
	}
	one := Filter{TestPoint: w.points[3].tag.TestPoint}
	for _, query := range []func(context.Context, Filter, int) ([]Envelope, error){b.Envelopes, b.Overviews, b.Charts} {
		for _, filter := range []Filter{one, {}} {
			if _, err := query(ctx, filter, 1000); err != nil {
				return err
			}
		}
	}
	streamed := 0
	for _, err := range b.Readings(ctx, Filter{}) {
		if err != nil {
			return err
		}
		streamed++
	}
	if want := readings / batchSize * batchSize; streamed != want {
		return fmt.Errorf("streamed %d readings, want %d", streamed, want)
	}
	if err := b.Close(); err != nil {
		return err
	}
	return sayMemory(path, readings)
}

// TestMemory: appending and querying two hours of the workload (BOOK_MEMORY=13800000: a
// day) takes at most 30 MB beyond what the program has without doing anything, 3 of them
// code that is run the first time: 21 to 23 MB were measured, and 26 to 27 MB for a day.
func TestMemory(t *testing.T) {
	readings := many(t, "BOOK_MEMORY", 1_150_000)
	kilobytes := func(part string) int {
		cmd := child(t, part, filepath.Join(t.TempDir(), "bench.book"), readings)
		said, err := cmd.Output()
		must(t, err)
		n, err := strconv.Atoi(strings.TrimSpace(string(said)))
		must(t, err)
		return n
	}
	floor, most := kilobytes("idle"), kilobytes("work")
	t.Logf("%d readings: %.1f MB beyond the floor of %.1f MB", readings, float64(most-floor)/1e3, float64(floor)/1e3)
	if most-floor > 30_000 && !raceDetector { // which takes several times as much
		t.Errorf("%d kB beyond the floor of %d kB", most-floor, floor)
	}
}

package book

import (
	"context"
	"errors"
	"path/filepath"
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"
	"github.com/google/go-cmp/cmp/cmpopts"
)

func TestInfo(t *testing.T) {
	b, _ := judgedSoak(t)
	must(t, b.PutEvent(t.Context(), Event{Bench: "quay"}))
	other := rail
	other.TestPoint = "rail-12v"
	write(t, b, digits(t, rail, time.Hour, "5"), digits(t, other, -time.Hour, "12"))
	lost := &batch{}
	lost.lose(digits(t, rail, 0, "5"), LostQueueFull)
	lost.lose(digits(t, rail, 0, "5"), LostQueueFull)
	_, err := b.store(t.Context(), lost, newJournal())
	must(t, err)
	got, err := b.Info(t.Context())
	want := Info{
		Path: b.Path(), Version: len(shipped()), Program: "soakline test", PageBytes: 4096,
		Readings: 3, Series: 2, Units: 1, Soaks: 1, Excursions: 2, Events: 1, Verdicts: 1, LostReadings: 2,
		First: begin.Add(-time.Hour), Last: begin.Add(time.Hour),
	}
	if diff := cmp.Diff(want, got, cmpopts.IgnoreFields(Info{}, "FileBytes", "LogBytes", "FreeBytes", "Pages")); err != nil || diff != "" {
		t.Error(err, diff)
	}
	if got.LogBytes == 0 || got.Pages < 20 {
		t.Errorf("sizes %+v", got)
	}
	empty, err := openNew(t).Info(t.Context())
	if err != nil || !empty.First.IsZero() || empty.Readings != 0 {
		t.Errorf("an empty book: %+v (%v)", empty, err)
	}
}

func TestLastAndTags(t *testing.T) {
	b := openNew(t)
	other := rail
	other.TestPoint = "composite"
	write(t, b, digits(t, rail, time.Second, "1"), digits(t, other, 0, "2"), digits(t, rail, time.Minute, "3"), digits(t, rail, time.Minute, "4"))
	tags, err := b.Tags(t.Context(), Filter{})
	if diff := cmp.Diff([]Tag{other, rail}, tags); err != nil || diff != "" {
		t.Error(err, diff)
	}
	last, err := b.Last(t.Context(), Filter{})
	if err != nil || len(last) != 2 || last[0] != digits(t, other, 0, "2") || last[1] != digits(t, rail, time.Minute, "4") {
		t.Errorf("last %+v (%v)", last, err)
	}
	last, err = b.Last(t.Context(), Filter{Since: begin.Add(time.Second), Until: begin.Add(time.Minute)})
	if err != nil || len(last) != 1 || last[0] != digits(t, rail, time.Second, "1") {
		t.Errorf("last within a time %+v (%v)", last, err)
	}
}

// TestReadingStopsWhenAsked: breaking off ends the query, a cancelled context is an
// error.
func TestReadingStopsWhenAsked(t *testing.T) {
	b := openNew(t)
	var many []TaggedReading
	for i := range 3 * 2000 {
		many = append(many, digits(t, rail, time.Duration(i)*time.Millisecond, "5"))
	}
	write(t, b, many...)
	seen := 0
	for _, err := range b.Readings(t.Context(), Filter{}) {
		must(t, err)
		if seen++; seen == 2000+1 {
			break
		}
	}
	if in := b.reading.Stats().InUse; in != 0 {
		t.Errorf("%d connections are still in use", in)
	}
	ctx, cancel := context.WithCancel(t.Context())
	defer cancel()
	seen = 0
	var last error
	for _, err := range b.Readings(ctx, Filter{}) {
		if seen++; seen == 1 {
			cancel()
		}
		last = err
	}
	if last == nil || seen > 2000+1 {
		t.Errorf("a cancelled query went on for %d readings and ended with %v", seen, last)
	}
	if all := readAll(t, b, Filter{}); len(all) != 3*2000 {
		t.Errorf("%d readings, want %d", len(all), 3*2000)
	}
}

// TestReadingAChangedFile: another process's damage is an error, not a wrong value,
// in the tail and in a block.
func TestReadingAChangedFile(t *testing.T) {
	for _, damage := range []string{
		`UPDATE tail SET data = CAST(substr(data, 1, length(data) - 1) || x'00' AS BLOB)`,
		`UPDATE block_data SET data = CAST(substr(data, 1, 700) || x'00' || substr(data, 702) AS BLOB)`,
		`DELETE FROM block_data`,
	} {
		b := openAt(t, filepath.Join(t.TempDir(), "bench.book"), Options{})
		write(t, b, newWorkload(1).read(40000)...)
		_, err := b.writing.ExecContext(t.Context(), damage)
		must(t, err)
		var last error
		for _, err := range b.Readings(t.Context(), Filter{}) {
			last = err
		}
		if !errors.Is(last, ErrDamaged) {
			t.Errorf("%s: %v, want %v", damage, last, ErrDamaged)
		}
	}
}

// TestRooms: all pages of the file are accounted for.
func TestRooms(t *testing.T) {
	b := fullBook(t)
	rooms, err := b.Rooms(t.Context())
	must(t, err)
	info, err := b.Info(t.Context())
	must(t, err)
	var total int64
	for _, room := range rooms {
		total += room.Bytes
	}
	if want := info.Pages*info.PageBytes - info.FreeBytes; total != want || len(rooms) < 7 {
		t.Errorf("%v are %d bytes, want %d", rooms, total, want)
	}
}

// TestTimeStep: times are rounded down to the step that is set, before 1970 too.
func TestTimeStep(t *testing.T) {
	b := openNew(t)
	w := NewWriter(b, WriterOptions{TimeStep: time.Millisecond})
	stop := running(t, w)
	r := digits(t, rail, 0, "5.0121")
	must(t, w.Append(r))
	r.At = time.UnixMicro(-1)
	must(t, w.Append(r))
	must(t, stop())
	got := readAll(t, b, Filter{})
	if len(got) != 2 || got[0].At.UnixMicro() != -1000 || !got[1].At.Equal(begin.Truncate(time.Millisecond)) {
		t.Errorf("got %v", got)
	}
}

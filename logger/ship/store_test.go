package ship

import (
	"bytes"
	"io"
	"net/http"
	"slices"
	"strings"
	"sync"
	"testing"
	"time"

	"github.com/klauspost/compress/gzip"

	"soakline/logger/book"
)

// store is an engine in this process that can be bad. It keeps lines by themselves.
type store struct {
	mu    sync.Mutex
	has   map[string]int
	order []string // as they came for the first time
	// bad, if not nil, is asked first; true means that it has answered. It holds no
	// lock of the store.
	bad func(w http.ResponseWriter, r *http.Request, lines []string) bool
	// refuse, if not nil, says why it does not take a line; those that it takes of
	// the same request it keeps.
	refuse func(line string) string
}

func newStore() *store { return &store{has: map[string]int{}} }

// ServeHTTP takes lines.
func (s *store) ServeHTTP(w http.ResponseWriter, r *http.Request) {
	unzip, err := gzip.NewReader(r.Body)
	if err != nil {
		http.Error(w, err.Error(), http.StatusBadRequest)
		return
	}
	text, err := io.ReadAll(unzip)
	if err != nil {
		http.Error(w, err.Error(), http.StatusBadRequest)
		return
	}
	lines := slices.Collect(strings.Lines(string(text)))
	s.mu.Lock()
	bad := s.bad
	s.mu.Unlock()
	if bad != nil && bad(w, r, lines) {
		return
	}
	if why := s.take(lines); why != "" {
		http.Error(w, `{"error":"partial write: `+why+`"}`, http.StatusBadRequest)
		return
	}
	w.WriteHeader(http.StatusNoContent)
}

func (s *store) take(lines []string) (why string) {
	s.mu.Lock()
	defer s.mu.Unlock()
	for _, line := range lines {
		if s.refuse != nil {
			if no := s.refuse(line); no != "" {
				why = no
				continue
			}
		}
		if s.has[line]++; s.has[line] == 1 {
			s.order = append(s.order, line)
		}
	}
	return why
}

// behave makes it good, or bad in another way.
func (s *store) behave(bad func(w http.ResponseWriter, r *http.Request, lines []string) bool) {
	s.mu.Lock()
	defer s.mu.Unlock()
	s.bad = bad
}

// hold compares what it took first in which order with the book.
func (s *store) hold(t *testing.T, b *book.Book, but ...string) {
	t.Helper()
	var text bytes.Buffer
	_, err := b.ExportLines(t.Context(), &text, book.Filter{})
	must(t, err)
	want := slices.DeleteFunc(slices.Collect(strings.Lines(text.String())), func(line string) bool { return slices.Contains(but, line) })
	s.mu.Lock()
	defer s.mu.Unlock()
	if !slices.Equal(want, s.order) {
		t.Errorf("it has %d lines, the book %d, or the order is another", len(s.order), len(want))
	}
}

// sorted puts what it took in the order of its times.
func (s *store) sorted() {
	s.mu.Lock()
	defer s.mu.Unlock()
	stamp := func(line string) string { return line[strings.LastIndexByte(line, ' '):] }
	slices.SortStableFunc(s.order, func(a, b string) int { return strings.Compare(stamp(a), stamp(b)) })
}

// filled is a book with n readings, 10 ms apart.
func filled(t *testing.T, n int) *book.Book {
	t.Helper()
	b := openBook(t)
	fill(t, b, 0, n)
	return b
}

// fill appends readings number from to until.
func fill(t *testing.T, b *book.Book, from, until int) {
	t.Helper()
	writer := book.NewWriter(b, book.WriterOptions{CommitEvery: time.Hour})
	stop := running(t, writer.Run)
	begin := time.Date(2026, 3, 14, 9, 26, 53, 0, time.UTC)
	for i := from; i < until; i++ {
		must(t, writer.Append(reading(t, i, begin.Add(time.Duration(i)*10*time.Millisecond))))
	}
	stop()
}

// settled waits until a shipper has shipped all.
func settled(t *testing.T, s *Shipper) Status {
	t.Helper()
	waitFor(t, "all to be shipped", func() bool {
		status := s.Status()[0]
		return status.Pending == 0 && status.Trouble == "" && status.Readings > 0
	})
	return s.Status()[0]
}

// troubled waits until trouble shows that has these words.
func troubled(t *testing.T, s *Shipper, words string) Status {
	t.Helper()
	waitFor(t, "trouble: "+words, func() bool { return strings.Contains(s.Status()[0].Trouble, words) })
	return s.Status()[0]
}

func quickTarget(url string) Target {
	t := target(url)
	t.Every, t.Resend = 10*time.Millisecond, 50*time.Millisecond
	return t
}

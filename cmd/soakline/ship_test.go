package main

import (
	"compress/gzip"
	"encoding/json"
	"io"
	"maps"
	"math/rand/v2"
	"net/http"
	"net/http/httptest"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"sync"
	"syscall"
	"testing"
	"time"

	"soakline/logger/page"
)

// lineStore is an engine that keeps each line once, as one that goes by tags and
// time does.
type lineStore struct {
	mu  sync.Mutex
	has map[string]bool
}

func (s *lineStore) ServeHTTP(w http.ResponseWriter, r *http.Request) {
	unzip, err := gzip.NewReader(r.Body)
	if err != nil {
		http.Error(w, err.Error(), http.StatusBadRequest)
		return
	}
	text, err := io.ReadAll(unzip)
	if err != nil { // cut off by a kill
		http.Error(w, err.Error(), http.StatusBadRequest)
		return
	}
	s.mu.Lock()
	defer s.mu.Unlock()
	for line := range strings.Lines(string(text)) {
		s.has[line] = true
	}
	w.WriteHeader(http.StatusNoContent)
}

// lines is what it has, in the order of the text.
func (s *lineStore) lines() []string {
	s.mu.Lock()
	defer s.mu.Unlock()
	return slices.Sorted(maps.Keys(s.has))
}

// addTo adds lines to a file.
func addTo(t *testing.T, file, text string) {
	t.Helper()
	old, err := os.ReadFile(file)
	if err != nil {
		t.Fatal(err)
	}
	if err := os.WriteFile(file, append(old, text...), 0o600); err != nil {
		t.Fatal(err)
	}
}

// end ends the daemon as a service manager does.
func (k *killedBench) end(t *testing.T) {
	t.Helper()
	if err := k.daemon.Process.Signal(syscall.SIGTERM); err != nil {
		t.Fatal(err)
	}
	if err := k.daemon.Wait(); err != nil {
		t.Fatalf("%v\n%s", err, k.daemon.log)
	}
}

// TestShippingSurvivesKills kills the daemon at random moments while it ships. What
// is in the book is at the engine after a clean end, and nothing else: what a kill
// cost is the last commit interval, which is in neither.
func TestShippingSurvivesKills(t *testing.T) {
	seed := uint64(time.Now().UnixNano())
	t.Logf("seed %d", seed)
	chance := rand.New(rand.NewPCG(seed, 0))
	store := &lineStore{has: map[string]bool{}}
	server := httptest.NewServer(store)
	defer server.Close()
	k := newKilledBench(t)
	addTo(t, k.file, "ship:\n  - {name: store, url: \""+server.URL+"/write?db=bench\", every: 200ms}\n")
	k.serve(t)
	if output, err := k.run("unit", "add", "B8-0147", "--console", "Brambling 8"); err != nil {
		t.Fatalf("%v: %s", err, output)
	}
	if output, err := k.run("soak", "begin", "--unit", "B8-0147@left", "--for", "2h"); err != nil {
		t.Fatalf("%v: %s", err, output)
	}
	for range 5 {
		before := len(store.lines())
		waitFor(t, "lines at the engine", func() bool { return len(store.lines()) > before })
		<-time.After(time.Duration(chance.IntN(1500)) * time.Millisecond)
		k.kill(t)
		k.serve(t)
	}
	if output, err := k.run("soak", "end", "--unit", "B8-0147", "--reason", "end of the test"); err != nil {
		t.Fatalf("%v: %s", err, output)
	}
	waitFor(t, "the verdict", func() bool { _, err := k.run("soak", "show", "1"); return err == nil })
	var views []page.ShippingView
	output, err := k.run("ship", "status", "--json")
	if err != nil || json.Unmarshal([]byte(output), &views) != nil || len(views) != 1 || views[0].Trouble != "" || views[0].Lines == 0 {
		t.Errorf("ship status: %v, %s", err, output)
	}
	k.end(t)
	exported, err := k.run("book", "export")
	if err != nil {
		t.Fatal(err)
	}
	want := slices.Sorted(strings.Lines(exported))
	if got := store.lines(); !slices.Equal(want, got) {
		t.Errorf("the engine has %d lines, the book %d", len(got), len(want))
	}
	if !strings.Contains(exported, "\nverdict,bench=pier-end,") {
		t.Error("there is no verdict among the lines")
	}
}

// TestTwoBenchesOfOneHost runs two daemons, each with its bench; a real Prometheus
// finds both by the files that they write, and misses the one that was stopped no
// more. A bench whose book is open already is refused.
func TestTwoBenchesOfOneHost(t *testing.T) {
	found := t.TempDir()
	prometheus := discoveringPrometheus(t, found)
	var benches []*killedBench
	for _, name := range []string{"pier-end", "pier-west"} {
		k := newKilledBench(t)
		text, err := os.ReadFile(k.file)
		if err != nil {
			t.Fatal(err)
		}
		text = []byte(strings.Replace(string(text), "bench: pier-end", "bench: "+name, 1))
		if err := os.WriteFile(k.file, text, 0o600); err != nil {
			t.Fatal(err)
		}
		addTo(t, k.file, "discovery: {file: \""+filepath.Join(found, name+".json")+"\"}\n")
		k.serve(t)
		benches = append(benches, k)
	}
	for _, name := range []string{"pier-end", "pier-west"} {
		waitFor(t, "Prometheus to find "+name, func() bool {
			return len(instant(t, prometheus, `up{bench_name="`+name+`"} == 1`)) == 1
		})
	}
	second := start(t, binary(t), "serve", "--bench", benches[0].file, "--listen", "127.0.0.1:0")
	if err := second.Wait(); err == nil || !strings.Contains(second.log.String(), "another process writes to it") {
		t.Errorf("a second daemon on one book: %v, %s", err, second.log)
	}
	benches[1].end(t)
	if files, err := filepath.Glob(filepath.Join(found, "*")); err != nil || len(files) != 1 {
		t.Errorf("after one has ended there are %v (%v)", files, err)
	}
	waitFor(t, "Prometheus to miss the one that ended no more", func() bool {
		return len(instant(t, prometheus, `up`)) == 1
	})
	benches[0].kill(t) // one that dies is missed
	waitFor(t, "Prometheus to miss the one that died", func() bool {
		return len(instant(t, prometheus, `up{bench_name="pier-end"} == 0`)) == 1
	})
}

// discoveringPrometheus starts a Prometheus that looks into a folder for benches.
func discoveringPrometheus(t *testing.T, folder string) (address string) {
	t.Helper()
	dir := t.TempDir()
	file := filepath.Join(dir, "prometheus.yml")
	text := "global: {scrape_interval: 1s, scrape_timeout: 1s}\nscrape_configs:\n  - job_name: benches\n    file_sd_configs: [{files: ['" +
		filepath.Join(folder, "*.json") + "'], refresh_interval: 1s}]\n"
	if err := os.WriteFile(file, []byte(text), 0o600); err != nil {
		t.Fatal(err)
	}
	address = freeAddress(t)
	start(t, need(t, "prometheus"), "--config.file="+file, "--storage.tsdb.path="+filepath.Join(dir, "data"),
		"--web.listen-address="+address, "--log.level=error")
	return address
}

// instant asks Prometheus now; nothing where it does not answer yet.
func instant(t *testing.T, address, query string) []json.RawMessage {
	t.Helper()
	request, err := http.NewRequestWithContext(t.Context(), http.MethodGet, "http://"+address+"/api/v1/query", nil)
	if err != nil {
		t.Fatal(err)
	}
	request.URL.RawQuery = "query=" + strings.NewReplacer(" ", "%20", "{", "%7B", "}", "%7D", `"`, "%22", "=", "%3D").Replace(query)
	response, err := http.DefaultClient.Do(request)
	if err != nil {
		return nil
	}
	defer response.Body.Close()
	var answer struct {
		Data struct {
			Result []json.RawMessage `json:"result"`
		} `json:"data"`
	}
	if err := json.NewDecoder(response.Body).Decode(&answer); err != nil {
		return nil
	}
	return answer.Data.Result
}

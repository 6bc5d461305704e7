package ship

import (
	"bufio"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"net"
	"net/http"
	"net/url"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"testing"
	"time"
)

// engine is a real engine on loopback, with its data in a folder that outlives its
// kills.
type engine struct {
	name, address, dir string
	args               []string
	write              string // where lines go
	// points reads all points back: of each series its times, in nanoseconds, and
	// values.
	points  func(t testing.TB, e *engine) map[string]map[int64]json.Number
	ready   string
	process *exec.Cmd
}

// engines are those that the tests talk to, by name. None has data yet.
var engines = map[string]func(t testing.TB) *engine{"influxd": newInfluxd, "victoria-metrics": newVictoria}

// program finds a program that the tests need.
func program(t testing.TB, name, debian string) string {
	t.Helper()
	path, err := exec.LookPath(name)
	if err != nil {
		t.Fatalf("%s is not here: install the Debian package %s, or run make test", name, debian)
	}
	return path
}

func freeAddress(t testing.TB) string {
	t.Helper()
	listener, err := net.Listen("tcp", "127.0.0.1:0")
	if err != nil {
		t.Fatal(err)
	}
	defer listener.Close()
	return listener.Addr().String()
}

// newInfluxd is the first generation of its kind (1.6 in Debian): line protocol at
// /write, one database, write-ahead log.
func newInfluxd(t testing.TB) *engine { return influxd(t, false, "CREATE DATABASE bench") }

// influxd starts one, asks it for passwords if it is to be locked, and has it do
// something first.
func influxd(t testing.TB, locked bool, first string) *engine {
	dir, address := t.TempDir(), freeAddress(t)
	settings := fmt.Sprintf(`reporting-disabled = true
bind-address = %q
[meta]
  dir = %q
[data]
  dir = %q
  wal-dir = %q
  query-log-enabled = false
[monitor]
  store-enabled = false
[http]
  bind-address = %q
  log-enabled = false
  auth-enabled = %t
`, freeAddress(t), filepath.Join(dir, "meta"), filepath.Join(dir, "data"), filepath.Join(dir, "wal"), address, locked)
	file := filepath.Join(dir, "influxdb.conf")
	if err := os.WriteFile(file, []byte(settings), 0o600); err != nil {
		t.Fatal(err)
	}
	e := &engine{name: program(t, "influxd", "influxdb"), address: address, dir: dir, args: []string{"-config", file},
		ready: "/ping", points: influxPoints, write: "http://" + address + "/write?db=bench"}
	e.start(t)
	response, err := http.PostForm("http://"+address+"/query", url.Values{"q": {first}})
	if err != nil || response.StatusCode != http.StatusOK {
		t.Fatal(response, err)
	}
	_ = response.Body.Close()
	return e
}

// newVictoria keeps times to the millisecond, and of several values of one time one,
// if it is told so.
func newVictoria(t testing.TB) *engine {
	dir, address := t.TempDir(), freeAddress(t)
	e := &engine{name: program(t, "victoria-metrics", "victoria-metrics"), address: address, dir: dir,
		args: []string{"-storageDataPath", dir, "-httpListenAddr", address, "-dedup.minScrapeInterval=1ms",
			"-retentionPeriod=100y", "-loggerLevel=ERROR"},
		ready: "/health", points: victoriaPoints, write: "http://" + address + "/write"}
	e.start(t)
	return e
}

// start starts the engine and waits until it answers.
func (e *engine) start(t testing.TB) {
	t.Helper()
	e.process = exec.Command(e.name, e.args...)
	if err := e.process.Start(); err != nil {
		t.Fatal(err)
	}
	process := e.process
	t.Cleanup(func() {
		if process.ProcessState == nil {
			_ = process.Process.Kill() // it may have ended by itself
			_ = process.Wait()
		}
	})
	waitFor(t, e.name, func() bool {
		response, err := http.Get("http://" + e.address + e.ready)
		if err != nil {
			return false
		}
		_ = response.Body.Close()
		return response.StatusCode/100 == 2
	})
}

// kill ends the engine as a power cut of the process does.
func (e *engine) kill(t testing.TB) {
	t.Helper()
	if err := e.process.Process.Kill(); err != nil {
		t.Fatal(err)
	}
	_ = e.process.Wait() // it was killed, and says so
}

// waitFor asks until something is true that another process does.
func waitFor(t testing.TB, what string, is func() bool) {
	t.Helper()
	deadline := time.After(60 * time.Second)
	for !is() {
		select {
		case <-deadline:
			t.Fatalf("waited in vain for %s", what)
		case <-time.After(20 * time.Millisecond):
		}
	}
}

// get reads from the engine.
func (e *engine) get(t testing.TB, path string, query url.Values) io.ReadCloser {
	t.Helper()
	response, err := http.Get("http://" + e.address + path + "?" + query.Encode())
	if err != nil {
		t.Fatal(err)
	}
	if response.StatusCode != http.StatusOK {
		t.Fatalf("%s answers %s", path, response.Status)
	}
	return response.Body
}

// influxPoints asks for every field of every measurement.
func influxPoints(t testing.TB, e *engine) map[string]map[int64]json.Number {
	t.Helper()
	return influxPointsAs(t, e, url.Values{})
}

// influxPointsAs does so as somebody.
func influxPointsAs(t testing.TB, e *engine, query url.Values) map[string]map[int64]json.Number {
	t.Helper()
	query.Set("db", "bench")
	query.Set("epoch", "ns")
	query.Set("chunked", "true")
	query.Set("q", "SELECT * FROM reading GROUP BY *")
	body := e.get(t, "/query", query)
	defer body.Close()
	decoder := json.NewDecoder(body)
	decoder.UseNumber()
	all := map[string]map[int64]json.Number{}
	for {
		var chunk struct {
			Results []struct {
				Error  string `json:"error"`
				Series []struct {
					Tags    map[string]string `json:"tags"`
					Columns []string          `json:"columns"`
					Values  [][]any           `json:"values"`
				} `json:"series"`
			} `json:"results"`
		}
		if err := decoder.Decode(&chunk); errors.Is(err, io.EOF) {
			return all
		} else if err != nil {
			t.Fatal(err)
		}
		for _, result := range chunk.Results {
			if result.Error != "" {
				t.Fatal(result.Error)
			}
			for _, series := range result.Series {
				for _, row := range series.Values {
					at, err := row[0].(json.Number).Int64()
					if err != nil {
						t.Fatal(err)
					}
					for i := 1; i < len(row); i++ {
						if value, ok := row[i].(json.Number); ok {
							add(t, all, seriesKey(series.Tags)+" "+series.Columns[i], at, value)
						}
					}
				}
			}
		}
	}
}

// victoriaPoints reads the raw samples back.
func victoriaPoints(t testing.TB, e *engine) map[string]map[int64]json.Number {
	t.Helper()
	_ = e.get(t, "/internal/force_flush", nil).Close()
	body := e.get(t, "/api/v1/export", url.Values{"match[]": {`{__name__=~"reading_.*"}`}, "reduce_mem_usage": {"0"}})
	defer body.Close()
	all := map[string]map[int64]json.Number{}
	lines := bufio.NewScanner(body)
	lines.Buffer(nil, 64<<20)
	for lines.Scan() {
		var series struct {
			Metric     map[string]string `json:"metric"`
			Values     []json.Number     `json:"values"`
			Timestamps []int64           `json:"timestamps"`
		}
		if err := json.Unmarshal(lines.Bytes(), &series); err != nil {
			t.Fatal(err)
		}
		field := strings.TrimPrefix(series.Metric["__name__"], "reading_")
		delete(series.Metric, "__name__")
		delete(series.Metric, "db")
		for i, value := range series.Values {
			add(t, all, seriesKey(series.Metric)+" "+field, series.Timestamps[i]*1e6, value)
		}
	}
	if err := lines.Err(); err != nil {
		t.Fatal(err)
	}
	return all
}

// add notes a point; the second of one series and time is a failure.
func add(t testing.TB, all map[string]map[int64]json.Number, series string, at int64, value json.Number) {
	t.Helper()
	if all[series] == nil {
		all[series] = map[int64]json.Number{}
	}
	if old, there := all[series][at]; there {
		t.Fatalf("%s at %d is there twice: %s and %s", series, at, old, value)
	}
	all[series][at] = value
}

// seriesKey writes tags in the order of their names.
func seriesKey(tags map[string]string) string {
	text, err := json.Marshal(tags)
	if err != nil {
		panic(err) // strings only
	}
	return string(text)
}

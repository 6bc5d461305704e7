package ship

import (
	"encoding/json"
	"fmt"
	"net/http"
	"net/url"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"testing"
)

// newGuarded is a store that speaks the v2 write path, behind a gate in a process of its
// own that lets nobody in but who brings the token.
func newGuarded(t *testing.T, token string) (e *engine, gate string) {
	t.Helper()
	e, gate = newVictoria(t), freeAddress(t)
	file := filepath.Join(t.TempDir(), "gate.yaml")
	rule := fmt.Sprintf("users:\n  - bearer_token: %q\n    url_map:\n      - {src_paths: [\"/api/v2/write\"], url_prefix: \"http://%s\"}\n", token, e.address)
	must(t, os.WriteFile(file, []byte(rule), 0o600))
	guard := exec.Command(program(t, "vmauth", "victoria-metrics"), "-auth.config", file, "-httpListenAddr", gate, "-loggerLevel=ERROR")
	must(t, guard.Start())
	t.Cleanup(func() {
		_ = guard.Process.Kill() // it may have ended by itself
		_ = guard.Wait()
	})
	waitFor(t, "the gate", func() bool {
		response, err := http.Get("http://" + gate + "/health")
		if err != nil {
			return false
		}
		_ = response.Body.Close()
		return response.StatusCode == http.StatusOK
	})
	return e, gate
}

// TestV2WritePath writes to a real peer by the v2 write path, organisation and bucket
// named and the token in the header "Authorization: Token …": everything is there. With
// a wrong token nothing goes in, and status says why.
func TestV2WritePath(t *testing.T) {
	e, gate := newGuarded(t, "bench-token")
	b := filled(t, 2000)
	to := quickTarget("http://" + gate + "/api/v2/write?org=pier&bucket=bench&precision=ns")
	to.Scheme, to.Secret = Token, "another-token"
	must(t, to.Validate())
	shipper := quick(New(b, []Target{to}, quiet()))
	stop := running(t, shipper.Run)
	status := troubled(t, shipper, "cannot find the provided auth token") // with 400, in this version
	if stop(); status.Pending != 2000 || status.Refused != 0 || strings.Contains(status.Trouble, "another-token") {
		t.Errorf("%+v", status)
	}
	if there := e.points(t, e); len(there) != 0 {
		t.Errorf("%d series went in without the right token", len(there))
	}
	to.Secret = "bench-token"
	shipper = quick(New(b, []Target{to}, quiet()))
	stop = running(t, shipper.Run)
	settled(t, shipper)
	stop()
	if n := compare(t, b, e); n != 2000 {
		t.Errorf("%d readings are there, want 2000", n)
	}
}

// TestPassword writes to an engine that asks for name and password, as its first
// generation does (RFC 7617).
func TestPassword(t *testing.T) {
	e := influxd(t, true, "CREATE USER bench WITH PASSWORD 'pier-word' WITH ALL PRIVILEGES")
	made, err := http.PostForm("http://"+e.address+"/query?u=bench&p=pier-word", url.Values{"q": {"CREATE DATABASE bench"}})
	if err != nil || made.StatusCode != http.StatusOK {
		t.Fatal(made, err)
	}
	_ = made.Body.Close()
	b := filled(t, 500)
	to := quickTarget(e.write)
	to.Scheme, to.Secret = Basic, "bench:other-word"
	shipper := quick(New(b, []Target{to}, quiet()))
	stop := running(t, shipper.Run)
	status := troubled(t, shipper, "it answers 401: it does not accept the secret, or wants one")
	if stop(); status.Pending != 500 || strings.Contains(status.Trouble, "other-word") {
		t.Errorf("%+v", status)
	}
	to.Secret = "bench:pier-word"
	shipper = quick(New(b, []Target{to}, quiet()))
	stop = running(t, shipper.Run)
	settled(t, shipper)
	stop()
	e.points = func(t testing.TB, e *engine) map[string]map[int64]json.Number {
		return influxPointsAs(t, e, url.Values{"u": {"bench"}, "p": {"pier-word"}})
	}
	if n := compare(t, b, e); n != 500 {
		t.Errorf("%d readings are there, want 500", n)
	}
}

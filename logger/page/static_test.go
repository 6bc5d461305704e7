package page

import (
	"compress/gzip"
	"io"
	"net/http"
	"net/http/httptest"
	"strings"
	"testing"
	"testing/fstest"
)

// testAssets is a page of three files and two that are none of it.
func testAssets(t *testing.T) assets {
	t.Helper()
	found, err := loadAssets(fstest.MapFS{
		"index.html":           {Data: []byte("<!doctype html><title>soakline</title>" + strings.Repeat(" ", 500))},
		"assets/main-ABCD.js":  {Data: []byte(strings.Repeat("follow();\n", 100))},
		"icon.svg":             {Data: []byte("<svg/>")},
		"placeholder.txt":      {Data: []byte("here")},
		"assets/main-ABCD.map": {Data: []byte("{}")},
	})
	if err != nil {
		t.Fatal(err)
	}
	return found
}

// fetch asks for a file with the headers given as pairs.
func fetch(handler http.Handler, method, path string, headers ...string) *httptest.ResponseRecorder {
	request := httptest.NewRequest(method, path, nil)
	for i := 0; i+1 < len(headers); i += 2 {
		request.Header.Set(headers[i], headers[i+1])
	}
	answer := httptest.NewRecorder()
	handler.ServeHTTP(answer, request)
	return answer
}

func TestFilesOfThePage(t *testing.T) {
	rows := []struct {
		method, path string
		status       int
		media, cache string
	}{
		{"GET", "/", 200, "text/html; charset=utf-8", "no-cache"},
		{"HEAD", "/", 200, "text/html; charset=utf-8", "no-cache"},
		{"GET", "/assets/main-ABCD.js", 200, "text/javascript; charset=utf-8", "public, max-age=31536000, immutable"},
		{"GET", "/icon.svg", 200, "image/svg+xml", "no-cache"},
		{"GET", "/assets/", 404, jsonType, "no-store"},
		{"GET", "/assets", 404, jsonType, "no-store"},
		{"GET", "/placeholder.txt", 404, jsonType, "no-store"},
		{"GET", "/assets/main-ABCD.map", 404, jsonType, "no-store"},
		{"GET", "/../server.go", 404, jsonType, "no-store"},
		{"POST", "/", 405, jsonType, "no-store"},
	}
	files := testAssets(t)
	for _, row := range rows {
		answer := fetch(files, row.method, row.path)
		if answer.Code != row.status || answer.Header().Get("Content-Type") != row.media || answer.Header().Get("Cache-Control") != row.cache {
			t.Errorf("%s %s: %d %v", row.method, row.path, answer.Code, answer.Header())
		}
		if row.method == "HEAD" && answer.Body.Len() > 0 {
			t.Errorf("HEAD brought %q", answer.Body)
		}
	}
}

func TestFileIsSentOnce(t *testing.T) {
	files := testAssets(t)
	first := fetch(files, "GET", "/", "Accept-Encoding", "gzip, br")
	unpacked, err := gzip.NewReader(first.Body)
	if err != nil || first.Header().Get("Content-Encoding") != "gzip" {
		t.Fatalf("%v, %v", err, first.Header())
	}
	text, err := io.ReadAll(unpacked)
	if err != nil || !strings.HasPrefix(string(text), "<!doctype html>") {
		t.Errorf("%v, %q", err, text)
	}
	again := fetch(files, "GET", "/", "If-None-Match", first.Header().Get("ETag"))
	if again.Code != http.StatusNotModified || again.Body.Len() > 0 {
		t.Errorf("%d with %d bytes", again.Code, again.Body.Len())
	}
	if other := fetch(files, "GET", "/", "If-None-Match", `"another"`); other.Code != http.StatusOK {
		t.Errorf("%d for a browser that has another", other.Code)
	}
	if plain := fetch(files, "GET", "/", "Accept-Encoding", "gzip;q=0"); plain.Header().Get("Content-Encoding") != "" {
		t.Error("compressed for one that does not take it")
	}
}

// TestPageNotBuilt: a plain build of a fresh clone says what is missing.
func TestPageNotBuilt(t *testing.T) {
	answer := fetch(assets{}, "GET", "/")
	if answer.Code != http.StatusServiceUnavailable || !strings.HasPrefix(answer.Body.String(), "The page was not built: make build") {
		t.Errorf("%d %q", answer.Code, answer.Body)
	}
}

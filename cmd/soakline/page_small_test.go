package main

import (
	"bytes"
	"compress/gzip"
	"io"
	"net/http"
	"os"
	"path/filepath"
	"regexp"
	"testing"
)

// TestPageIsSmall: all that a first view needs comes to less than 150 kB as it is sent.
func TestPageIsSmall(t *testing.T) {
	p := newPageBench(t)
	total, asked := 0, map[string]bool{}
	var fetchAll func(path string)
	fetchAll = func(path string) {
		if asked[path] {
			return
		}
		asked[path] = true
		request, err := http.NewRequestWithContext(t.Context(), http.MethodGet, "http://"+p.address+path, nil)
		if err != nil {
			t.Fatal(err)
		}
		request.Header.Set("Accept-Encoding", "gzip")
		answer, err := http.DefaultClient.Do(request)
		if err != nil {
			t.Fatal(err)
		}
		defer answer.Body.Close()
		sent, err := io.ReadAll(answer.Body)
		if err != nil || answer.StatusCode != http.StatusOK {
			t.Fatalf("%s: %s, %v", path, answer.Status, err)
		}
		total += len(sent)
		if answer.Header.Get("Content-Encoding") == "gzip" {
			plain, err := gzip.NewReader(bytes.NewReader(sent))
			if err != nil {
				t.Fatal(err)
			}
			if sent, err = io.ReadAll(plain); err != nil {
				t.Fatal(err)
			}
		}
		for _, found := range regexp.MustCompile(`["'(]\.?(/(?:assets/)?[\w.-]+\.(?:js|css|svg))["')]`).FindAllSubmatch(sent, -1) {
			next := string(found[1])
			if _, err := os.Stat(filepath.Join("..", "..", "logger", "page", "web", "dist", filepath.FromSlash(next))); err != nil {
				next = "/assets" + next // a chunk, named beside its own
			}
			fetchAll(next)
		}
	}
	fetchAll("/")
	if len(asked) < 5 {
		t.Errorf("only %d files were found", len(asked))
	}
	t.Logf("the whole page: %d files, %d bytes as they are sent", len(asked), total)
	if total > 150_000 {
		t.Errorf("%d bytes for a first view, at most 150000 are wanted", total)
	}
}

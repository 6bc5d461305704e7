package main

import (
	"bytes"
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"net/http"
	"net/url"
	"os"
	"path/filepath"
	"time"

	"soakline/config"
	"soakline/logger/page"
)

// notice is what a running daemon leaves beside its book, so that commands find it.
type notice struct {
	Bench   string `json:"bench"`
	Address string `json:"address"`
	PID     int    `json:"pid"`
}

func noticePath(bookPath string) string { return bookPath + ".daemon" }

// postNotice writes the notice; the returned function takes it away.
func postNotice(bookPath string, n notice) (func() error, error) {
	text, err := json.Marshal(n)
	if err != nil {
		return nil, err
	}
	path := noticePath(bookPath)
	if err := os.WriteFile(path, text, 0o600); err != nil {
		return nil, fmt.Errorf("leave word where the daemon listens: %w", err)
	}
	return func() error { return os.Remove(path) }, nil
}

// daemon is a running daemon as a command reaches it.
type daemon struct {
	address, token string
	client         *http.Client
}

// requestPatience is how long a command waits for the daemon's answer.
const requestPatience = 15 * time.Second

// findDaemon returns the daemon that holds the bench; nil if none is running.
func findDaemon(ctx context.Context, bench config.Bench) (*daemon, error) {
	text, err := os.ReadFile(noticePath(bench.Book))
	if errors.Is(err, os.ErrNotExist) {
		return nil, nil
	}
	if err != nil {
		return nil, fmt.Errorf("look for a running daemon: %w", err)
	}
	var n notice
	if err := json.Unmarshal(text, &n); err != nil {
		return nil, fmt.Errorf("look for a running daemon in %s: %w", filepath.Base(noticePath(bench.Book)), err)
	}
	d := &daemon{address: n.Address, token: bench.Token, client: &http.Client{Timeout: requestPatience}}
	var view page.BenchView
	err = d.get(ctx, "/api/v1/bench", &view)
	if _, unreachable := errors.AsType[*url.Error](err); unreachable || err == nil && view.Bench != bench.Bench {
		return nil, nil // a notice that a killed daemon left, or another bench at that address
	}
	return d, err
}

func (d *daemon) get(ctx context.Context, path string, into any) error {
	return d.do(ctx, http.MethodGet, path, nil, into)
}

func (d *daemon) post(ctx context.Context, path string, body, into any) error {
	text, err := json.Marshal(body)
	if err != nil {
		return err
	}
	return d.do(ctx, http.MethodPost, path, text, into)
}

// do asks the daemon; a refusal is an error in the daemon's words.
func (d *daemon) do(ctx context.Context, method, path string, body []byte, into any) error {
	request, err := http.NewRequestWithContext(ctx, method, "http://"+d.address+path, bytes.NewReader(body))
	if err != nil {
		return err
	}
	request.Header.Set("Content-Type", "application/json")
	if d.token != "" {
		request.Header.Set("Authorization", "Bearer "+d.token)
	}
	response, err := d.client.Do(request)
	if err != nil {
		return fmt.Errorf("ask the daemon at %s: %w", d.address, err)
	}
	defer response.Body.Close()
	text, err := io.ReadAll(response.Body)
	if err != nil {
		return fmt.Errorf("ask the daemon at %s: %w", d.address, err)
	}
	if response.StatusCode >= http.StatusBadRequest {
		var problem page.Problem
		if json.Unmarshal(text, &problem) != nil || problem.Error == "" {
			problem.Error = response.Status
		}
		return errors.New(problem.Error)
	}
	if into == nil {
		return nil
	}
	if err := json.Unmarshal(text, into); err != nil {
		return fmt.Errorf("the daemon's answer to %s: %w", path, err)
	}
	return nil
}

package main

import (
	"bytes"
	"context"
	"crypto/tls"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"net/http"
	"net/url"
	"os"
	"time"

	"soakline/config"
	"soakline/logger/page"
)

// notice is what a running daemon leaves beside its book, so that commands find it.
type notice struct {
	Bench   string `json:"bench"`
	Address string `json:"address"`
	PID     int    `json:"pid"`
	// TLS tells that the daemon is reached encrypted.
	TLS bool `json:"tls,omitempty"`
}

func noticePath(bookPath string) string { return bookPath + ".daemon" }

// postNotice writes the notice; the returned function takes it away.
func postNotice(bookPath string, n notice) (func() error, error) {
	text, err := json.Marshal(n)
	if err != nil {
		return nil, err
	}
	path := noticePath(bookPath)
	if err := writeWhole(path, text); err != nil {
		return nil, fmt.Errorf("leave word where the daemon listens: %w", err)
	}
	return func() error {
		if err := os.Remove(path); err != nil && !errors.Is(err, os.ErrNotExist) {
			return err
		}
		return nil
	}, nil
}

// writeWhole writes a file that nobody sees half written.
func writeWhole(path string, text []byte) error {
	if err := os.WriteFile(path+".new", text, 0o600); err != nil {
		return err
	}
	return os.Rename(path+".new", path)
}

// daemon is a running daemon as a command reaches it.
type daemon struct {
	scheme, address, token string
	client                 *http.Client
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
	if json.Unmarshal(text, &n) != nil || n.Address == "" {
		return nil, nil // a power cut left an empty file: who left it is not there any more
	}
	d := newDaemon(n.Address, bench.Token)
	if n.TLS {
		d.encrypted(bench.TLS)
	}
	var view page.BenchView
	err = d.get(ctx, "/api/v1/bench", &view)
	if ctx.Err() != nil {
		return nil, ctx.Err()
	}
	_, unreachable := errors.AsType[*url.Error](err)
	if unreachable || errors.Is(err, errNotOurs) || err == nil && view.Bench != bench.Bench {
		return nil, nil // a notice that a killed daemon left, or another at that address
	}
	return d, err
}

// newDaemon returns a daemon as commands reach it: straight, since a token is
// nothing for a proxy to see.
func newDaemon(address, token string) *daemon {
	return &daemon{scheme: "http://", address: address, token: token, client: &http.Client{Timeout: requestPatience, Transport: &http.Transport{}}}
}

// encrypted has the daemon reached over TLS. Its certificate is known from the bench's
// file and is the only one that is believed: by its bytes, as it may be made out to a
// name by which this machine does not reach itself.
func (d *daemon) encrypted(own *tls.Certificate) {
	d.scheme = "https://"
	d.client.Transport = &http.Transport{TLSClientConfig: &tls.Config{MinVersion: tls.VersionTLS12,
		InsecureSkipVerify: true, // #nosec G402 -- VerifyConnection is stricter
		VerifyConnection: func(state tls.ConnectionState) error {
			if own == nil || !bytes.Equal(state.PeerCertificates[0].Raw, own.Certificate[0]) {
				return errors.New("the daemon has another certificate than the bench's file names")
			}
			return nil
		}}}
}

// errNotOurs is an answer that no daemon of this program gives.
var errNotOurs = errors.New("that is no daemon of soakline")

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
	request, err := d.request(ctx, method, path, bytes.NewReader(body))
	if err != nil {
		return err
	}
	response, err := d.client.Do(request)
	if err != nil {
		return fmt.Errorf("ask the daemon at %s: %w", d.address, err)
	}
	defer response.Body.Close()
	if response.StatusCode >= http.StatusBadRequest {
		return refusal(response)
	}
	if into == nil {
		return nil
	}
	if err := json.NewDecoder(response.Body).Decode(into); err != nil {
		return fmt.Errorf("%w: its answer to %s: %w", errNotOurs, path, err)
	}
	return nil
}

// request makes a request that the daemon accepts.
func (d *daemon) request(ctx context.Context, method, path string, body io.Reader) (*http.Request, error) {
	request, err := http.NewRequestWithContext(ctx, method, d.scheme+d.address+path, body)
	if err != nil {
		return nil, err
	}
	request.Header.Set("Content-Type", "application/json")
	if d.token != "" {
		request.Header.Set("Authorization", "Bearer "+d.token)
	}
	return request, nil
}

// refusedByDaemon is what the daemon says against a request.
type refusedByDaemon struct {
	status int
	text   string
}

// Error is in the daemon's words.
func (r refusedByDaemon) Error() string { return r.text }

// refusal reads what the daemon says against a request.
func refusal(response *http.Response) error {
	var problem page.Problem
	if err := json.NewDecoder(response.Body).Decode(&problem); err != nil || problem.Error == "" {
		return fmt.Errorf("%w: it answers %s", errNotOurs, response.Status)
	}
	return refusedByDaemon{response.StatusCode, problem.Error}
}

package ship

import (
	"bytes"
	"context"
	"crypto/tls"
	"crypto/x509"
	"errors"
	"fmt"
	"io"
	"net"
	"net/http"
	"net/http/httptrace"
	"net/url"
	"strconv"
	"strings"
	"time"

	"github.com/klauspost/compress/gzip"
)

// poster sends lines to one engine and tells what became of them.
type poster struct {
	target Target
	client *http.Client
	gate   *gate
	zip    *gzip.Writer
}

// verdict is what an engine said to some lines.
type verdict int

const (
	taken    verdict = iota // it has them
	refused                 // some line is wrong (400, 422): it may have taken the others
	tooLarge                // 413
	trouble                 // anything else: the lines have to be sent again
)

// answer is what became of some lines.
type answer struct {
	verdict verdict
	// err says in words why the lines were not taken.
	err error
	// after is how long the engine asks to wait; 0 if it does not.
	after time.Duration
	// fresh tells that the connection was a new one, closes that the engine said
	// that it will not keep it.
	fresh, closes bool
}

func newPoster(t Target) *poster {
	config := &tls.Config{MinVersion: tls.VersionTLS12}
	if len(t.CA) > 0 {
		config.RootCAs = x509.NewCertPool()
		config.RootCAs.AppendCertsFromPEM(t.CA) // Validate has seen one in it
	}
	transport := &http.Transport{
		Proxy: http.ProxyFromEnvironment, TLSClientConfig: config, MaxIdleConnsPerHost: 1,
		DialContext:           (&net.Dialer{Timeout: t.Timeout, KeepAlive: 15 * time.Second}).DialContext,
		TLSHandshakeTimeout:   t.Timeout,
		ResponseHeaderTimeout: t.Timeout,
	}
	return &poster{target: t, gate: newGate(t.BytesPerSecond), zip: gzip.NewWriter(nil), client: &http.Client{
		Transport: transport,
		// Elsewhere is not where a secret, or the readings, were meant to go.
		CheckRedirect: func(*http.Request, []*http.Request) error { return http.ErrUseLastResponse },
	}}
}

// close lets go of the connection.
func (p *poster) close() { p.client.CloseIdleConnections() }

// post sends lines once.
func (p *poster) post(ctx context.Context, lines []byte) answer {
	var body bytes.Buffer // a new one each time: the transport may read on after an error
	p.zip.Reset(&body)
	_, err := p.zip.Write(lines)
	if err = errors.Join(err, p.zip.Close()); err != nil {
		return answer{verdict: trouble, err: fmt.Errorf("compress: %w", err)}
	}
	ctx, cancel := context.WithTimeout(ctx, p.target.Timeout+p.gate.takes(body.Len()))
	defer cancel()
	var a answer
	traced := httptrace.WithClientTrace(ctx, &httptrace.ClientTrace{GotConn: func(i httptrace.GotConnInfo) { a.fresh = !i.Reused }})
	// A reader that cannot be rewound keeps the transport from sending it again by
	// itself on a new connection, unseen.
	request, err := http.NewRequestWithContext(traced, http.MethodPost, p.target.URL, p.gate.reader(body.Bytes()))
	if err != nil {
		return answer{verdict: trouble, err: err}
	}
	request.ContentLength = int64(body.Len())
	request.Header.Set("Content-Type", "text/plain; charset=utf-8")
	request.Header.Set("Content-Encoding", "gzip")
	request.Header.Set("User-Agent", "soakline")
	if value := p.target.authorization(); value != "" {
		request.Header.Set("Authorization", value)
	}
	response, err := p.client.Do(request)
	if err != nil {
		return answer{verdict: trouble, err: p.plain(err), fresh: a.fresh}
	}
	a.closes = response.Close
	p.read(response, &a)
	return a
}

// plain takes out of an error what the address would tell once more.
func (p *poster) plain(err error) error {
	if e, ok := errors.AsType[*url.Error](err); ok {
		if e.Timeout() {
			return fmt.Errorf("no answer within %s", p.target.Timeout)
		}
		err = e.Err
	}
	return err
}

const (
	mostAnswer = 64 << 10 // of an engine's words are read
	mostReason = 300      // and are shown
)

// read sorts an answer.
func (p *poster) read(response *http.Response, a *answer) {
	defer response.Body.Close()
	text, err := io.ReadAll(io.LimitReader(response.Body, mostAnswer))
	status := response.StatusCode
	switch {
	case err != nil:
		a.verdict, a.err = trouble, fmt.Errorf("its answer %d broke off: %w", status, err)
	case status/100 == 2:
		a.verdict = taken
	case status == http.StatusBadRequest, status == http.StatusUnprocessableEntity:
		a.verdict, a.err = refused, fmt.Errorf("it answers %d%s", status, p.words(text))
	case status == http.StatusRequestEntityTooLarge:
		a.verdict, a.err = tooLarge, fmt.Errorf("it answers 413: a batch of this size is too large for it")
	case status/100 == 3:
		where := response.Header.Get("Location")
		a.verdict, a.err = trouble, fmt.Errorf("it answers %d and points to %q: give the address where it takes lines", status, where)
	case status == http.StatusUnauthorized, status == http.StatusForbidden:
		a.verdict, a.err = trouble, fmt.Errorf("it answers %d: it does not accept the secret, or wants one%s", status, p.words(text))
	default:
		a.verdict, a.err = trouble, fmt.Errorf("it answers %d%s", status, p.words(text))
	}
	if seconds, err := strconv.Atoi(response.Header.Get("Retry-After")); err == nil && seconds > 0 {
		a.after = time.Duration(seconds) * time.Second
	}
}

// words is an engine's own explanation on one line, as much as is shown of it. Some
// engines say a secret that they do not know back.
func (p *poster) words(text []byte) string {
	one := strings.Join(strings.Fields(p.target.withoutSecret(strings.ToValidUTF8(string(text), "�"))), " ")
	if one == "" {
		return ""
	}
	if runes := []rune(one); len(runes) > mostReason {
		one = string(runes[:mostReason]) + "…"
	}
	return ": " + one
}

// loopback tells whether a host is this machine.
func loopback(host string) bool {
	ip := net.ParseIP(host)
	return host == "localhost" || ip != nil && ip.IsLoopback()
}

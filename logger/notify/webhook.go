package notify

import (
	"bytes"
	"context"
	"crypto/tls"
	"crypto/x509"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"net/http"
	"time"
)

// sender takes one notice to one target.
type sender interface {
	send(ctx context.Context, n Notice) error
}

// refusal is an error that no further try can mend.
type refusal struct{ error }

func (r refusal) Unwrap() error { return r.error }

// patience is how long one try may take.
const patience = 30 * time.Second

// webhookSender posts notices.
type webhookSender struct {
	Webhook
	client *http.Client
}

func newWebhookSender(w Webhook) (*webhookSender, error) {
	transport := &http.Transport{Proxy: http.ProxyFromEnvironment, TLSHandshakeTimeout: patience}
	if len(w.CA) > 0 {
		pool, err := x509.SystemCertPool()
		if err != nil {
			pool = x509.NewCertPool()
		}
		if !pool.AppendCertsFromPEM(w.CA) {
			return nil, errors.New("there is no certificate in the CA file")
		}
		transport.TLSClientConfig = &tls.Config{RootCAs: pool, MinVersion: tls.VersionTLS12}
	}
	client := &http.Client{Transport: transport, Timeout: patience,
		// A signature is for one address: following would send it to another.
		CheckRedirect: func(*http.Request, []*http.Request) error { return http.ErrUseLastResponse }}
	return &webhookSender{w, client}, nil
}

func (w *webhookSender) send(ctx context.Context, n Notice) (err error) {
	body, err := json.Marshal(n)
	if err != nil {
		return refusal{err}
	}
	request, err := http.NewRequestWithContext(ctx, http.MethodPost, w.URL, bytes.NewReader(body))
	if err != nil {
		return refusal{err}
	}
	request.Header.Set("Content-Type", "application/json")
	request.Header.Set("Idempotency-Key", `"`+n.ID+"-"+string(n.Stage)+`"`)
	if len(w.Key) > 0 {
		Sign(request, body, w.Key, w.KeyID, time.Now())
	}
	answer, err := w.client.Do(request)
	if err != nil {
		return err
	}
	defer func() { err = errors.Join(err, answer.Body.Close()) }()
	if _, err := io.Copy(io.Discard, io.LimitReader(answer.Body, 64<<10)); err != nil {
		return err
	}
	switch code := answer.StatusCode; {
	case code < 300:
		return nil
	case code < 500 && code != http.StatusRequestTimeout && code != http.StatusTooManyRequests:
		return refusal{fmt.Errorf("the receiver answers %s", answer.Status)}
	default:
		return fmt.Errorf("the receiver answers %s", answer.Status)
	}
}

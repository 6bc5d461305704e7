package ship

import (
	"crypto/x509"
	"encoding/base64"
	"errors"
	"fmt"
	"net/url"
	"strings"
	"time"

	"soakline/checks"
)

// Scheme says how a target is told who sends.
type Scheme string

// The schemes: "Authorization: Token …" as the v2 write path wants it, and Bearer
// (RFC 6750) and Basic (RFC 7617), where the secret is name:password.
const (
	Token  Scheme = "token"
	Bearer Scheme = "bearer"
	Basic  Scheme = "basic"
)

// Schemes lists them.
func Schemes() []Scheme { return []Scheme{Token, Bearer, Basic} }

// Secret is a token or a name and password; it is never printed.
type Secret string

// String, GoString and LogValue keep it out of texts and logs.
func (s Secret) String() string { return "(secret)" }

// GoString is what %#v writes.
func (s Secret) GoString() string { return "(secret)" }

// Target is one engine that readings go to. It is plain data; config fills it from
// bench.yaml and Validate says what is wrong.
type Target struct {
	// Name tells it from the others, also in the book, which keeps under it how far
	// the target is.
	Name string
	// URL is the engine's whole write address, its parameters included. Times are in
	// nanoseconds, which is what engines expect when nothing is said.
	URL    string
	Scheme Scheme
	Secret Secret
	// CA is a PEM file of the authorities that may vouch for the engine; empty is
	// the system's.
	CA []byte
	// Every is how often the book is looked at for what is new.
	Every time.Duration
	// BatchLines is how many lines go out at once at most.
	BatchLines int
	// BytesPerSecond bounds what is sent, as compressed; 0 is no bound.
	BytesPerSecond int
	// Timeout is how long the engine may take for an answer.
	Timeout time.Duration
	// Resend is for how long an engine may forget what it has acknowledged when it
	// is killed: that much is sent again after the connection to it was lost. The
	// lines are the same, so that nothing is there twice.
	Resend time.Duration
}

// What a target need not say.
const (
	DefaultEvery      = time.Second
	DefaultBatchLines = 5000
	DefaultTimeout    = 30 * time.Second
	DefaultResend     = 15 * time.Second
)

// Bounds of what a target may say.
const (
	mostBatchLines = 50_000
	leastBytes     = 100
)

// Validate says everything that is wrong with a target, joined; each error is a
// *checks.PathError whose path is a key of bench.yaml.
func (t Target) Validate() error {
	var all []error
	addf := func(path, format string, args ...any) {
		all = append(all, &checks.PathError{Path: path, Err: fmt.Errorf(format, args...)})
	}
	if t.Name == "" {
		addf("name", "the target has no name")
	}
	if why := wrongURL(t.URL); why != "" {
		addf("url", "%s", why)
	}
	if t.Secret != "" {
		if u, err := url.Parse(t.URL); err == nil && u.Scheme == "http" && !loopback(u.Hostname()) {
			addf("url", "a secret would go over the network for all to read: use https")
		}
	}
	if len(t.CA) > 0 && !x509.NewCertPool().AppendCertsFromPEM(t.CA) {
		addf("ca_file", "there is no certificate in it (PEM, RFC 7468)")
	}
	if t.Every <= 0 {
		addf("every", "%s is no interval", t.Every)
	}
	if t.BatchLines < 1 || t.BatchLines > mostBatchLines {
		addf("batch_lines", "must be from 1 to %d", mostBatchLines)
	}
	if t.BytesPerSecond != 0 && t.BytesPerSecond < leastBytes {
		addf("bytes_per_second", "must be %d or more; left out is no bound", leastBytes)
	}
	if t.Timeout <= 0 {
		addf("timeout", "%s is no time to answer in", t.Timeout)
	}
	return errors.Join(all...)
}

// wrongURL says what is wrong with a write address; "" if it is one.
func wrongURL(text string) string {
	u, err := url.Parse(text)
	switch {
	case err != nil || u.Host == "" || u.Scheme != "http" && u.Scheme != "https":
		return fmt.Sprintf("%q is no write address, as in http://127.0.0.1:8086/write?db=bench", text)
	case u.User != nil:
		return "name and password do not belong into the address: use authorization: basic and secret_file"
	}
	query := u.Query()
	for _, secret := range []string{"u", "p", "token"} {
		if query.Has(secret) {
			return fmt.Sprintf("the secret %s= does not belong into the address: use secret_file", secret)
		}
	}
	if p := query.Get("precision"); p != "" && p != "n" && p != "ns" {
		return fmt.Sprintf("precision=%s: times are sent in nanoseconds, precision=ns", p)
	}
	return ""
}

// authorization is the header's value; "" for none.
func (t Target) authorization() string {
	secret := string(t.Secret)
	switch {
	case secret == "":
		return ""
	case t.Scheme == Bearer:
		return "Bearer " + secret
	case t.Scheme == Basic:
		return "Basic " + base64.StdEncoding.EncodeToString([]byte(secret))
	}
	return "Token " + secret
}

// withoutSecret is a text without the secret, in any form in which it was sent.
func (t Target) withoutSecret(text string) string {
	const leastPart = 4 // a shorter part of it would be found anywhere
	secret := string(t.Secret)
	if secret == "" {
		return text
	}
	forms := []string{secret, base64.StdEncoding.EncodeToString([]byte(secret))}
	if _, word, ok := strings.Cut(secret, ":"); ok && len(word) >= leastPart {
		forms = append(forms, word)
	}
	for _, form := range forms {
		text = strings.ReplaceAll(text, form, t.Secret.String())
	}
	return text
}

// Address is where it goes, without parameters.
func (t Target) Address() string {
	u, err := url.Parse(t.URL)
	if err != nil {
		return t.URL
	}
	u.RawQuery, u.User = "", nil
	return u.String()
}

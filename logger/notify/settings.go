package notify

import (
	"errors"
	"fmt"
	"net/mail"
	"net/url"
	"slices"
	"time"

	"soakline/checks"
)

// Settings say whom to tell of what. They are plain data; Validate says what is
// wrong.
type Settings struct {
	Targets []Target
	// DiskLowBytes is how much room must be left beside the book; 0 does not look.
	DiskLowBytes uint64
}

// Target is one way in which people are told. Exactly one of Webhook, Command and
// Mail is set.
type Target struct {
	Name string
	// Tell are the kinds that it is told of; empty means all.
	Tell    []Kind
	Webhook *Webhook
	// Command is a program with its arguments. It is run as it stands, never by a
	// shell, and gets the notice as JSON on its standard input.
	Command []string
	Mail    *Mail
	// Quiet is when notices are held until it is over; nil where they never are.
	Quiet *Quiet
}

// Webhook is an address that is sent the notice as JSON.
type Webhook struct {
	URL string
	// Key signs each request (see Sign) under the name KeyID; empty signs none.
	Key   []byte
	KeyID string
	// CA are PEM certificates that are trusted besides the system's.
	CA []byte
}

// Mail is a mail server and who is written to.
type Mail struct {
	// Server is "host:port"; Security is "tls", "starttls" or "none".
	Server, Security string
	User, Password   string
	From             string
	To               []string
}

// Quiet is a part of each day, from one time of day to another; From after To goes
// over midnight.
type Quiet struct{ From, To time.Duration }

// wants tells whether a target is told of a kind.
func (t Target) wants(k Kind) bool {
	return k == Trial || len(t.Tell) == 0 || slices.Contains(t.Tell, k)
}

// Validate tells every mistake, joined, each a *checks.PathError whose path is
// spelled as in bench.yaml.
func (s Settings) Validate() error {
	var all []error
	wrong := func(path, format string, args ...any) {
		all = append(all, &checks.PathError{Path: path, Err: fmt.Errorf(format, args...)})
	}
	names := map[string]int{}
	for i, t := range s.Targets {
		at := fmt.Sprintf("notify[%d].", i)
		if first, twice := names[t.Name]; twice && t.Name != "" {
			wrong(at+"name", "%q is there already as notify[%d]", t.Name, first)
		}
		names[t.Name] = i
		t.validate(at, wrong)
	}
	return errors.Join(all...)
}

func (t Target) validate(at string, wrong func(path, format string, args ...any)) {
	for j, k := range t.Tell {
		if !slices.Contains(Kinds(), k) {
			wrong(fmt.Sprintf("%stell[%d]", at, j), "there is no kind of notice %q; known are %v", k, Kinds())
		}
	}
	ways := 0
	for _, given := range []bool{t.Webhook != nil, len(t.Command) > 0, t.Mail != nil} {
		if given {
			ways++
		}
	}
	if ways != 1 {
		wrong(at+"name", "give %q one of webhook, command and mail", t.Name)
	}
	if w := t.Webhook; w != nil {
		if u, err := url.Parse(w.URL); err != nil || u.Host == "" || u.Scheme != "http" && u.Scheme != "https" {
			wrong(at+"webhook.url", "%q is no http or https address", w.URL)
		}
	}
	if m := t.Mail; m != nil {
		m.validate(at+"mail.", wrong)
	}
	if q := t.Quiet; q != nil && q.From == q.To {
		wrong(at+"quiet", "from and to are the same time: that is never, or always")
	}
}

func (m *Mail) validate(at string, wrong func(path, format string, args ...any)) {
	if !slices.Contains([]string{"tls", "starttls", "none"}, m.Security) {
		wrong(at+"security", "%q is none of tls, starttls, none", m.Security)
	}
	if _, _, err := m.hostPort(); err != nil {
		wrong(at+"server", "%q is no host:port", m.Server)
	}
	if _, err := mail.ParseAddress(m.From); err != nil {
		wrong(at+"from", "%q is no mail address", m.From)
	}
	if len(m.To) == 0 {
		wrong(at+"to", "there is nobody to write to")
	}
	for j, to := range m.To {
		if _, err := mail.ParseAddress(to); err != nil {
			wrong(fmt.Sprintf("%sto[%d]", at, j), "%q is no mail address", to)
		}
	}
	if m.Password != "" && m.Security == "none" {
		wrong(at+"security", "the password would go over the network in clear: use tls or starttls")
	}
}

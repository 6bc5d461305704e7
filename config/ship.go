package config

import (
	"os"
	"slices"
	"strings"

	"soakline/logger/ship"
)

// targets reads where the book is shipped to.
func (l *loader) targets(s *section) []ship.Target {
	var all []ship.Target
	var names []string
	for _, at := range s.list("ship", optional) {
		if at == nil {
			continue
		}
		t := l.target(at)
		if t.Name != "" && slices.Contains(names, t.Name) {
			at.wrong("name", "there is a target %q already", t.Name)
		}
		names = append(names, t.Name)
		all = append(all, t)
	}
	return all
}

// target reads one of them.
func (l *loader) target(s *section) ship.Target {
	var schemes []string
	for _, scheme := range ship.Schemes() {
		schemes = append(schemes, string(scheme))
	}
	t := ship.Target{
		Name:           s.text("name", required),
		URL:            s.text("url", required),
		Scheme:         ship.Scheme(s.oneOf("authorization", "way to say who sends", string(ship.Token), schemes...)),
		Secret:         l.secret(s),
		CA:             l.authorities(s),
		Every:          s.duration("every", optional, ship.DefaultEvery),
		BatchLines:     s.integer("batch_lines", optional, ship.DefaultBatchLines),
		BytesPerSecond: s.integer("bytes_per_second", optional, 0),
		Timeout:        s.duration("timeout", optional, ship.DefaultTimeout),
		Resend:         s.duration("resend", optional, ship.DefaultResend),
	}
	s.done()
	s.doc.validate(s.path, t.Validate())
	return t
}

// secret returns what a file or a variable of the environment holds, so that
// bench.yaml can be shown around.
func (l *loader) secret(s *section) ship.Secret {
	file, variable := s.text("secret_file", optional), s.text("secret_env", optional)
	key, text := "secret_env", os.Getenv(variable)
	switch {
	case file != "" && variable != "":
		s.wrong("secret_env", "the secret is given already by secret_file: keep one of the two")
		return ""
	case file != "":
		l.secretFiles = append(l.secretFiles, l.show(file))
		read, err := l.read(file)
		if err != nil {
			s.wrong("secret_file", "%s cannot be read: %s", l.show(file), unreadable(err)).cause = err
			return ""
		}
		key, text = "secret_file", string(read)
	case variable == "":
		return ""
	case text == "":
		s.wrong("secret_env", "the variable %s is not set", variable)
		return ""
	}
	secret := strings.TrimSpace(text)
	if secret == "" || strings.ContainsAny(secret, "\r\n") {
		s.wrong(key, "it must hold the secret and nothing else, on one line")
	}
	return ship.Secret(secret)
}

// authorities returns the certificates that may vouch for an engine.
func (l *loader) authorities(s *section) []byte {
	name := s.text("ca_file", optional)
	if name == "" {
		return nil
	}
	text, err := l.read(name)
	if err != nil {
		s.wrong("ca_file", "%s cannot be read: %s", l.show(name), unreadable(err)).cause = err
	}
	return text
}

package main

import (
	"bytes"
	"os"
	"regexp"
	"strings"

	"soakline/config"
)

// removed stands where a secret was.
const removed = "[removed]"

// Where secrets stand in a text: behind a key that says so (but not behind one that
// names a file), in a request's header, before a host, behind a question mark.
var (
	secretKey    = regexp.MustCompile(`(?i)\b((?:[a-z0-9_-]*(?:token|password|passphrase|passwd|secret|credential|api[_-]?key))["']?\s*[:=]\s*)("[^"\n]*"|'[^'\n]*'|[^\s,}#"']+)`)
	secretHeader = regexp.MustCompile(`(?i)\b(authorization["']?\s*[:=]\s*["']?(?:bearer|basic|token)\s+)[^\s"']+`)
	secretBearer = regexp.MustCompile(`(?i)\b(bearer\s+)[A-Za-z0-9._~+/=-]{8,}`)
	secretUser   = regexp.MustCompile(`(://)[^/\s:@"']+:[^/\s@"']+@`)
	secretQuery  = regexp.MustCompile(`(https?://[^\s"'?]+\?)[^\s"']+`)
)

// redactor takes secrets out of what is shown to somebody: those that are known, and
// what stands where secrets stand.
type redactor struct{ known [][]byte }

// newRedactor knows the secrets of a bench.
func newRedactor(bench config.Bench) redactor {
	var r redactor
	r.know(bench.Token)
	for _, target := range bench.Ship {
		r.know(string(target.Secret))
	}
	for _, name := range os.Environ() {
		key, value, _ := strings.Cut(name, "=")
		if strings.HasPrefix(key, "SOAKLINE_") && secretKey.MatchString(key+"=x") {
			r.know(value)
		}
	}
	for _, file := range bench.SecretFiles {
		if text, err := os.ReadFile(file); err == nil {
			r.know(strings.TrimSpace(string(text)))
		}
	}
	return r
}

// know notes a secret; one that is a word of two letters would blot out everything.
func (r *redactor) know(secret string) {
	if len(secret) > 3 {
		r.known = append(r.known, []byte(secret))
	}
}

func (r redactor) redact(text []byte) []byte {
	for _, secret := range r.known {
		text = bytes.ReplaceAll(text, secret, []byte(removed))
	}
	text = secretHeader.ReplaceAll(text, []byte("${1}"+removed))
	text = secretBearer.ReplaceAll(text, []byte("${1}"+removed))
	text = secretKey.ReplaceAll(text, []byte("${1}"+removed))
	text = secretUser.ReplaceAll(text, []byte("${1}"+removed+"@"))
	return secretQuery.ReplaceAll(text, []byte("${1}"+removed))
}

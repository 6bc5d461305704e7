package notify

import (
	"crypto/hmac"
	"crypto/sha256"
	"encoding/base64"
	"fmt"
	"net/http"
	"strings"
	"time"
)

// Sign signs a request with a shared key so that its receiver can tell who sent it
// and that nothing was changed: HTTP Message Signatures (RFC 9421) with hmac-sha256
// (3.3.3) over the method, the target and the digest of the body (RFC 9530, sha-256).
// The created parameter lets the receiver refuse what is old.
func Sign(r *http.Request, body, key []byte, keyID string, created time.Time) {
	sum := sha256.Sum256(body)
	r.Header.Set("Content-Digest", "sha-256=:"+base64.StdEncoding.EncodeToString(sum[:])+":")
	covered := []component{{"@method", r.Method}, {"@target-uri", r.URL.String()}, {"content-digest", r.Header.Get("Content-Digest")}}
	parameters, signature := sign(covered, fmt.Sprintf("created=%d;keyid=%q;alg=\"hmac-sha256\"", created.Unix(), keyID), key)
	r.Header.Set("Signature-Input", "soakline="+parameters)
	r.Header.Set("Signature", "soakline=:"+signature+":")
}

// component is one covered part of a message (RFC 9421, 2).
type component struct{ name, value string }

// sign returns the signature parameters (2.3) and the signature of the signature base
// (2.5) in base64.
func sign(covered []component, parameters string, key []byte) (input, signature string) {
	var base strings.Builder
	names := make([]string, len(covered))
	for i, c := range covered {
		names[i] = fmt.Sprintf("%q", c.name)
		fmt.Fprintf(&base, "%q: %s\n", c.name, c.value)
	}
	input = "(" + strings.Join(names, " ") + ");" + parameters
	fmt.Fprintf(&base, "%q: %s", "@signature-params", input)
	mac := hmac.New(sha256.New, key)
	mac.Write([]byte(base.String())) // a hash never fails
	return input, base64.StdEncoding.EncodeToString(mac.Sum(nil))
}

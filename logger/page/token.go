package page

import (
	"crypto/hmac"
	"crypto/sha256"
	"crypto/subtle"
	"encoding/hex"
	"net/http"
	"strconv"
	"strings"
	"time"
)

// token is what whoever reaches the bench from elsewhere must know. Only its hash
// is kept; nothing is asked where there is none.
type token struct {
	set  bool
	hash [sha256.Size]byte
}

func newToken(text string) token {
	return token{set: text != "", hash: sha256.Sum256([]byte(text))}
}

// is compares in a time that tells nothing.
func (t token) is(given string) bool {
	hash := sha256.Sum256([]byte(given))
	return t.set && subtle.ConstantTimeCompare(hash[:], t.hash[:]) == 1
}

// bearer is the token of a request of a program; false if it has none.
func bearer(r *http.Request) (string, bool) {
	return strings.CutPrefix(r.Header.Get("Authorization"), "Bearer ")
}

const (
	// cookieName is the browser's proof that it knew the token.
	cookieName = "soakline"
	// cookieLife is how long a browser stays logged in.
	cookieLife = 7 * 24 * time.Hour
)

// pass is a cookie's value: when it ends, signed with the token's hash. Nothing is
// kept of it here, so that a page stays logged in over a restart; another token
// ends it.
func (t token) pass(end time.Time) string {
	until := strconv.FormatInt(end.Unix(), 10)
	return until + "." + t.sign(until)
}

func (t token) sign(text string) string {
	mac := hmac.New(sha256.New, t.hash[:])
	mac.Write([]byte("page until " + text))
	return hex.EncodeToString(mac.Sum(nil))
}

// passes tells whether a request has a cookie that is still good.
func (t token) passes(r *http.Request, now time.Time) bool {
	cookie, err := r.Cookie(cookieName)
	if err != nil || !t.set {
		return false
	}
	until, signature, _ := strings.Cut(cookie.Value, ".")
	end, err := strconv.ParseInt(until, 10, 64)
	return err == nil && hmac.Equal([]byte(signature), []byte(t.sign(until))) && now.Before(time.Unix(end, 0))
}

// cookie is what a browser keeps; an empty value takes it away.
func cookie(value string, overTLS bool) *http.Cookie {
	c := &http.Cookie{Name: cookieName, Value: value, Path: "/", HttpOnly: true, Secure: overTLS, SameSite: http.SameSiteStrictMode,
		MaxAge: int(cookieLife / time.Second)}
	if value == "" {
		c.MaxAge = -1
	}
	return c
}

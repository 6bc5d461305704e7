package page

import (
	"fmt"
	"net"
	"net/http"
	"net/netip"
	"net/url"
	"strings"
	"time"
)

// CheckListen refuses an address that others can reach unless there is a token.
func CheckListen(listen, token string) error {
	host, _, err := net.SplitHostPort(listen)
	if err != nil {
		return fmt.Errorf("listen %q: %w", listen, err)
	}
	if !isLoopback(host) && token == "" {
		return fmt.Errorf("listen %q: others could reach the bench there; set a token, or listen on 127.0.0.1", listen)
	}
	return nil
}

func isLoopback(host string) bool {
	if host == "localhost" {
		return true
	}
	address, err := netip.ParseAddr(host)
	return err == nil && address.IsLoopback()
}

// guard lets a request through that comes from this bench's own page or from a
// program that holds the token. Without a token only loopback names are served,
// so that a page elsewhere cannot reach the bench through a name that it made
// point here.
func (s *Server) guard(next http.Handler) http.Handler {
	return http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		switch {
		case !s.token.set && !isLoopback(hostOf(r.Host)):
			refuse(w, http.StatusForbidden, fmt.Sprintf("this bench is not served under the name %q", r.Host))
		case !sameOrigin(r):
			refuse(w, http.StatusForbidden, "the request comes from another page")
		case s.admits(w, r):
			next.ServeHTTP(w, r)
		}
	})
}

// admits tells whether a request may be served, and says what is missing if not.
// The page's own files tell nothing of the bench, and it needs them to ask for the
// token.
func (s *Server) admits(w http.ResponseWriter, r *http.Request) bool {
	if _, file := s.assets[r.URL.Path]; !s.token.set || file || r.URL.Path == "/" || r.URL.Path == loginPath || s.token.passes(r, time.Now()) {
		return true
	}
	given, ok := bearer(r)
	if ok {
		return s.attempt(w, r, given)
	}
	w.Header().Set("WWW-Authenticate", `Bearer realm="soakline"`)
	refuse(w, http.StatusUnauthorized, "a token is needed: Authorization: Bearer …, or log in")
	return false
}

func hostOf(hostport string) string {
	if host, _, err := net.SplitHostPort(hostport); err == nil {
		return host
	}
	return strings.Trim(hostport, "[]")
}

// sameOrigin is true where a browser says that its page is from here, and for
// programs, which send no Origin.
func sameOrigin(r *http.Request) bool {
	origin := r.Header.Get("Origin")
	if origin == "" {
		return true
	}
	from, err := url.Parse(origin)
	return err == nil && from.Host == r.Host
}

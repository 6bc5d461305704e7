package page

import "net/http"

// policy lets a page run its own files and speak to its own daemon, and nothing
// else: no script or style within a document, no address elsewhere, no frame
// (Content Security Policy Level 3). A picture that the page has drawn itself may
// be saved.
const policy = "default-src 'none'; script-src 'self'; style-src 'self'; img-src 'self' blob:; connect-src 'self'; manifest-src 'self'; " +
	"base-uri 'none'; form-action 'none'; frame-ancestors 'none'"

// paperPolicy is that of a paper that is shown by itself: it brings its style with
// it, and no script runs in it.
const paperPolicy = "default-src 'none'; style-src 'unsafe-inline'; img-src data:; base-uri 'none'; form-action 'none'; frame-ancestors 'none'"

// headers are those that every answer carries.
var headers = map[string]string{
	"Content-Security-Policy":      policy,
	"X-Content-Type-Options":       "nosniff",
	"X-Frame-Options":              "DENY",
	"Referrer-Policy":              "no-referrer",
	"Cross-Origin-Resource-Policy": "same-origin",
	"Cross-Origin-Opener-Policy":   "same-origin",
}

// withHeaders puts them on every answer, refusals too.
func withHeaders(next http.Handler) http.Handler {
	return http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		for name, value := range headers {
			w.Header().Set(name, value)
		}
		next.ServeHTTP(w, r)
	})
}

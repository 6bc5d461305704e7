package page

import (
	"net/http"
	"strconv"
	"strings"
	"sync"

	"github.com/klauspost/compress/gzip"
)

// compressFrom is how long an answer must be before it is compressed: on one
// machine the time is better spent otherwise.
const compressFrom = 4 << 10

// compressors are made once: each holds most of a megabyte.
var compressors = sync.Pool{New: func() any {
	w, _ := gzip.NewWriterLevel(nil, gzip.BestSpeed) // the level is a known one
	return w
}}

// acceptsGzip tells whether a client takes gzip (RFC 9110, 12.5.3).
func acceptsGzip(r *http.Request) bool {
	for coding := range strings.SplitSeq(r.Header.Get("Accept-Encoding"), ",") {
		name, weight, _ := strings.Cut(strings.TrimSpace(coding), ";")
		_, q, _ := strings.Cut(weight, "q=")
		if value, err := strconv.ParseFloat(strings.TrimSpace(q), 64); strings.EqualFold(strings.TrimSpace(name), "gzip") && (err != nil || value > 0) {
			return true
		}
	}
	return false
}

// send writes a whole answer, compressed if it is long and the client takes it.
// The client may be gone; there is nobody to tell.
func send(w http.ResponseWriter, r *http.Request, status int, text []byte) {
	w.Header().Add("Vary", "Accept-Encoding")
	if len(text) < compressFrom || !acceptsGzip(r) {
		w.Header().Set("Content-Length", strconv.Itoa(len(text)))
		w.WriteHeader(status)
		_, _ = w.Write(text)
		return
	}
	w.Header().Set("Content-Encoding", "gzip")
	w.WriteHeader(status)
	to := compressors.Get().(*gzip.Writer)
	defer compressors.Put(to)
	to.Reset(w)
	_, _ = to.Write(text)
	_ = to.Close()
}

package page

import (
	"bytes"
	"compress/gzip"
	"crypto/sha256"
	"embed"
	"encoding/base64"
	"errors"
	"io/fs"
	"net/http"
	"path"
	"strings"
	"sync"
)

// built is the page as make has built it; in a fresh clone there is only a
// placeholder.
//
//go:embed web/dist
var built embed.FS

// notBuilt is said in place of a page that is not there.
const notBuilt = "The page was not built: make build\nThe same figures are at /api/v1/bench and /metrics.\n"

// asset is one file of the page, ready to be sent.
type asset struct {
	media          string
	text, squeezed []byte
	etag           string
	// lasting says that its name changes with what is in it.
	lasting bool
}

// assets are the files of the page by their path in the address.
type assets map[string]asset

// pageFiles are the files of the built page, prepared once.
var pageFiles = sync.OnceValue(func() assets {
	files, err := fs.Sub(built, "web/dist")
	var found assets
	if err == nil {
		found, err = loadAssets(files)
	}
	if err != nil {
		panic(err) // what the program contains can always be read
	}
	return found
})

// loadAssets reads the files below a folder; what is not a page's file is left out.
func loadAssets(from fs.FS) (assets, error) {
	found := assets{}
	err := fs.WalkDir(from, ".", func(name string, entry fs.DirEntry, err error) error {
		if err != nil || entry.IsDir() {
			return err
		}
		media, served := mediaOf[path.Ext(name)]
		if !served {
			return nil
		}
		text, err := fs.ReadFile(from, name)
		if err != nil {
			return err
		}
		found["/"+name], err = newAsset(media, text, strings.HasPrefix(name, "assets/"))
		return err
	})
	if index, there := found["/index.html"]; there {
		found["/"] = index
		delete(found, "/index.html")
	}
	return found, err
}

// mediaOf are the kinds of file that a page is made of. The machine's own table is
// not asked: it differs.
var mediaOf = map[string]string{
	".html": "text/html; charset=utf-8", ".js": "text/javascript; charset=utf-8", ".css": "text/css; charset=utf-8",
	".svg": "image/svg+xml", ".png": "image/png", ".json": "application/json", ".webmanifest": "application/manifest+json",
}

// newAsset prepares a file once for all who ask for it.
func newAsset(media string, text []byte, lasting bool) (asset, error) {
	sum := sha256.Sum256(text)
	a := asset{media: media, text: text, etag: `"` + base64.RawURLEncoding.EncodeToString(sum[:12]) + `"`, lasting: lasting}
	var squeezed bytes.Buffer
	w, err := gzip.NewWriterLevel(&squeezed, gzip.BestCompression)
	if err != nil {
		return a, err
	}
	_, err = w.Write(text)
	if err = errors.Join(err, w.Close()); err == nil && squeezed.Len() < len(text) {
		a.squeezed = squeezed.Bytes()
	}
	return a, err
}

// ServeHTTP serves a file of the page, or says that there is none: no folder is
// ever listed.
func (a assets) ServeHTTP(w http.ResponseWriter, r *http.Request) {
	file, there := a[r.URL.Path]
	switch {
	case r.Method != http.MethodGet && r.Method != http.MethodHead:
		w.Header().Set("Allow", "GET, HEAD")
		refuse(w, http.StatusMethodNotAllowed, "only GET and HEAD serve here")
	case there:
		file.serve(w, r)
	case r.URL.Path == "/":
		w.Header().Set("Content-Type", "text/plain; charset=utf-8")
		w.Header().Set("Cache-Control", "no-store")
		w.WriteHeader(http.StatusServiceUnavailable)
		_, _ = w.Write([]byte(notBuilt))
	default:
		refuse(w, http.StatusNotFound, "there is nothing of that name")
	}
}

// serve sends the file, unless the browser has it already (RFC 9110, 13.1.2).
func (a asset) serve(w http.ResponseWriter, r *http.Request) {
	header := w.Header()
	header.Set("Content-Type", a.media)
	header.Set("ETag", a.etag)
	header.Set("Vary", "Accept-Encoding")
	header.Set("Cache-Control", "no-cache")
	if a.lasting {
		header.Set("Cache-Control", "public, max-age=31536000, immutable")
	}
	text := a.text
	if a.squeezed != nil && acceptsGzip(r) {
		text = a.squeezed
		header.Set("Content-Encoding", "gzip")
	}
	if match := r.Header.Get("If-None-Match"); match != "" && strings.Contains(match, a.etag) {
		w.WriteHeader(http.StatusNotModified)
		return
	}
	if r.Method == http.MethodGet {
		_, _ = w.Write(text) // the client may be gone; there is nobody to tell
	}
}

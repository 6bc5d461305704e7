package page

import (
	"bytes"
	"cmp"
	"fmt"
	"mime"
	"net/http"
	"reflect"
	"strconv"
	"time"

	"soakline/logger/book"
	"soakline/logger/report"
)

func (s *Server) reportRoutes() []route {
	return []route{{method: http.MethodGet, path: "/api/v1/units/{unit}/report",
		about: "Gives the record of a unit's test: html, pdf, json, csv, junit (XML for build servers), or label (a PDF of 62 by 29 mm).",
		query: []parameter{{name: "format", about: "html (if not given), pdf, json, csv, junit or label", kind: reflect.String},
			{name: "soak", about: "number of the soak; if not given, the latest with a verdict", kind: reflect.Int64}},
		media: "text/html", status: http.StatusOK, serve: s.getReport}}
}

// getReport writes a unit's record. It is made in memory first, so that a failure
// is an answer of its own and not the end of half a paper.
func (s *Server) getReport(w http.ResponseWriter, r *http.Request) {
	format := report.Format(cmp.Or(r.URL.Query().Get("format"), string(report.HTML)))
	if err := format.Validate(); err != nil {
		fail(w, refusal(http.StatusUnprocessableEntity, "%v", err))
		return
	}
	var soak int64
	if text := r.URL.Query().Get("soak"); text != "" {
		var err error
		if soak, err = strconv.ParseInt(text, 10, 64); err != nil || soak < 1 {
			fail(w, refusal(http.StatusUnprocessableEntity, "soak %q is no number of a soak", text))
			return
		}
	}
	certificate, err := report.NewCertificate(r.Context(), s.bench.Book(), unitIn(r), s.reportOptions(book.SoakID(soak)))
	var paper bytes.Buffer
	if err == nil {
		err = certificate.Write(&paper, format)
	}
	if err != nil {
		fail(w, err)
		return
	}
	name := mime.FormatMediaType("inline", map[string]string{"filename": fmt.Sprintf("%s-%s.%s", certificate.Unit, format, format.Extension())})
	w.Header().Set("Content-Type", format.ContentType())
	w.Header().Set("Content-Disposition", cmp.Or(name, "inline"))
	w.Header().Set("Cache-Control", "no-store")
	w.Header().Set("Content-Security-Policy", paperPolicy)
	send(w, r, http.StatusOK, paper.Bytes())
}

func (s *Server) reportOptions(soak book.SoakID) report.Options {
	return report.Options{Soak: soak, Program: s.bench.Book().Program(), Now: time.Now(), Zone: time.Local,
		ParseSheet: s.bench.ParseSheet, Bench: s.bench.Settings()}
}

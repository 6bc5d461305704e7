package main

import (
	"bytes"
	"encoding/json"
	"fmt"
	"net/http"
	"net/url"
	"os"
	"slices"
	"strings"
	"testing"
	"time"

	"github.com/chromedp/chromedp"

	"soakline/checks"
	"soakline/device"
	"soakline/logger/book"
	"soakline/logger/page"
)

// hostile is a unit whose name would be a script if it were read as HTML.
const hostile = `<img src=x onerror=document.title=1>`

// pageBench is a daemon on a simulated bench with two units on a soak.
type pageBench struct {
	*killedBench
	address string
}

// newPageBench starts the simulated bench and the daemon, and puts two units on it.
func newPageBench(t *testing.T) *pageBench {
	t.Helper()
	p := &pageBench{killedBench: newKilledBench(t), address: freeAddress(t)}
	p.serveHere(t)
	for _, unit := range []page.UnitView{{Unit: "B8-0147", Console: "Brambling 8", Notes: []page.NoteView{{Text: "picture dim; <b>sat</b> in a shed"}}},
		{Unit: "CC-0031", Console: "Corncrake II"}, {Unit: hostile, Console: "Brambling 8"}} {
		p.post(t, "/api/v1/units", unit)
	}
	for _, unit := range []string{"B8-0147", "CC-0031"} {
		p.post(t, "/api/v1/soaks", page.SoakRequest{Unit: unit, ForS: 1200})
	}
	return p
}

// serveHere starts the daemon at the bench's address.
func (p *pageBench) serveHere(t *testing.T) {
	t.Helper()
	p.daemon = start(t, binary(t), "serve", "--bench", p.file, "--listen", p.address)
	waitFor(t, "the daemon", func() bool {
		answer, err := http.Get("http://" + p.address + "/readyz")
		if err != nil {
			return false
		}
		answer.Body.Close()
		return answer.StatusCode == http.StatusOK
	})
}

func (p *pageBench) url(place string) string { return "http://" + p.address + "/" + place }

// post asks the daemon for something, which must not be refused.
func (p *pageBench) post(t *testing.T, path string, body any) {
	t.Helper()
	text, err := json.Marshal(body)
	if err != nil {
		t.Fatal(err)
	}
	answer, err := http.Post("http://"+p.address+path, "application/json", bytes.NewReader(text))
	if err != nil {
		t.Fatal(err)
	}
	defer answer.Body.Close()
	if answer.StatusCode >= 300 {
		var problem page.Problem
		_ = json.NewDecoder(answer.Body).Decode(&problem) // the status says enough
		t.Fatalf("%s: %s %s", path, answer.Status, problem.Error)
	}
}

// takeRound takes a round of two test points, so that there is something to compare.
func (p *pageBench) takeRound(t *testing.T, unit, label string) {
	t.Helper()
	rounds := "/api/v1/units/" + unit + "/rounds"
	p.post(t, rounds, page.RoundRequest{Label: label})
	for _, point := range []string{"rail-5v", "composite"} {
		p.post(t, rounds+"/"+url.PathEscape(label)+"/points/"+point, page.PointRequest{})
	}
	p.post(t, rounds+"/"+url.PathEscape(label)+"/end", struct{}{})
}

// views are all views but those of a final test and of a watched discharge, which
// have tests of their own, of the page, and what is there when each has come up.
var views = []struct{ name, place, ready string }{
	{"bench", "", `document.querySelectorAll(".lane .point").length > 10 && !document.querySelector(".point[data-state=settling]")`},
	{"soak", "#/soak/1", `document.querySelectorAll(".strip-row").length > 10`},
	{"units", "#/units", `document.querySelectorAll("tbody tr").length === 3`},
	{"unit", "#/unit/B8-0147", `document.querySelector(".pair") && document.querySelectorAll(".course").length > 1`},
	{"charge-choice", "#/charge", `document.querySelectorAll("tbody tr").length === 3`},
	{"charge-cautions", "#/charge/B8-0147", `document.querySelectorAll(".cautions li").length > 3`},
	{"instruments", "#/instruments", `document.querySelectorAll("tbody tr").length === 4`},
	{"video", "#/video/B8-0147", `document.querySelector(".trace canvas") && document.querySelectorAll(".video-text tr").length > 10`},
	{"audio", "#/audio/B8-0147", `document.querySelector(".trace canvas") && document.querySelectorAll(".video-text tr").length > 8`},
	{"final-choice", "#/final", `document.querySelectorAll("tbody tr").length === 3`},
	{"figures", "#/figures", `document.querySelector(".line-view .yield, .line-view .empty")`},
	{"login", "#/login", `document.querySelector("input[type=password]")`},
}

// screens are those that pictures are taken of.
var screens = []struct {
	name          string
	width, height int64
	scheme        string
}{
	{"narrow-light", 360, 780, "light"}, {"narrow-dark", 360, 780, "dark"}, {"wide-light", 1440, 900, "light"},
	{"wide-dark", 1440, 900, "dark"}, {"4k-light", 3840, 2160, "light"},
}

// TestPage opens every view on a running bench: nothing in the console, nothing
// serious for those who hear the page instead of seeing it, nothing wider than the
// screen, nothing from the book read as HTML. Pictures are left in screenshots.
func TestPage(t *testing.T) {
	p, b := newPageBench(t), newBrowser(t)
	p.takeRound(t, "B8-0147", "as received")
	p.takeRound(t, "B8-0147", "capacitor replaced")
	for _, view := range views {
		t.Run(view.name, func(t *testing.T) {
			b.t = t
			b.size(1440, 900, "light")
			b.open(p.url(view.place))
			b.until(view.name, view.ready)
			b.accessible(view.name)
			for _, screen := range screens {
				b.size(screen.width, screen.height, screen.scheme)
				b.until("room", "document.documentElement.scrollWidth <= innerWidth")
				b.until("a drawn page", "new Promise(r => requestAnimationFrame(() => requestAnimationFrame(() => r(true))))")
				b.shot(view.name + "-" + screen.name)
			}
			b.accessible(view.name + " in dark")
		})
	}
	b.t = t
	b.size(1440, 900, "light")
	b.open(p.url("#/units"))
	b.until("the hostile unit", fmt.Sprintf(`[...document.querySelectorAll(".unit-link")].some(a => a.textContent === %q)`, hostile))
	b.do(chromedp.Click(chromedp.JSPath(fmt.Sprintf(`[...document.querySelectorAll(".unit-link")].find(a => a.textContent === %q)`, hostile))))
	b.until("its own view", fmt.Sprintf(`document.querySelector("h1")?.textContent === %q`, hostile))
	if n := evaluate[int](b, "document.images.length"); n != 0 {
		t.Errorf("%d images came out of the book", n)
	}
}

// TestPageIsLive holds what the page shows against the API and the book: each
// figure that was shown is a reading of the book, printed alike; and it says how
// old figures are when they are drawn.
func TestPageIsLive(t *testing.T) {
	p, b := newPageBench(t), newBrowser(t)
	b.open(p.url(""))
	b.until("figures", `document.querySelectorAll(".point[data-state=within]").length > 10`)
	t.Logf("first view after %.0f ms", evaluate[float64](b, `performance.getEntriesByName("first-view")[0].startTime`))
	shown := evaluate[[]shownFigure](b, `new Promise(done => {
		const seen = [];
		const look = m => { for (const { target } of m) seen.push({Unit: target.closest(".lane").getAttribute("aria-label"), Point: target.querySelector(".name").textContent,
			At: target.dataset.at, Figure: target.querySelector(".figure b").textContent, AgeMS: Date.now() - Date.parse(target.dataset.at)}); };
		new MutationObserver(look).observe(document.querySelector(".lanes"), {subtree: true, attributeFilter: ["data-at"]});
		setTimeout(() => done(seen), 4000);
	})`)
	if len(shown) < 20 {
		t.Fatalf("only %d figures changed in 4 s", len(shown))
	}
	var ages []float64
	for _, s := range shown {
		ages = append(ages, s.AgeMS)
	}
	slices.Sort(ages)
	t.Logf("%d figures drawn: age %.0f ms in the middle, %.0f ms at 99 %%, %.0f ms at most", len(ages), ages[len(ages)/2], ages[len(ages)*99/100], ages[len(ages)-1])
	b.expected = []string{"503", "ERR_CONNECTION_REFUSED", "ERR_INCOMPLETE_CHUNKED_ENCODING"} // the daemon stops under it
	p.stop(t)
	kept, err := book.Open(t.Context(), p.book, book.Options{ReadOnly: true})
	if err != nil {
		t.Fatal(err)
	}
	defer kept.Close()
	for _, s := range shown {
		s.check(t, kept)
	}
}

// shownFigure is a figure that the page drew.
type shownFigure struct {
	Unit, Point, At, Figure string
	AgeMS                   float64
}

// check looks the figure up in the book.
func (s shownFigure) check(t *testing.T, kept *book.Book) {
	t.Helper()
	point, measure, _ := strings.Cut(s.Point, " ")
	at, err := time.Parse(time.RFC3339Nano, s.At)
	if err != nil {
		t.Fatal(err)
	}
	filter := book.Filter{Unit: checks.UnitID(s.Unit), TestPoint: checks.TestPointName(point), Measure: device.Measure(measure),
		Since: at.Truncate(time.Millisecond), Until: at.Add(time.Millisecond)}
	for reading, err := range kept.Readings(t.Context(), filter) {
		if err != nil {
			t.Fatal(err)
		}
		text := checks.Figure(reading.Value, reading.StandardUncertainty, reading.Measure.Unit())
		if number, _, _ := strings.Cut(text, " "); number == s.Figure {
			return
		}
	}
	t.Errorf("the page showed %s %s %s at %s, and the book has no such reading", s.Unit, s.Point, s.Figure, s.At)
}

// stop ends the daemon in order.
func (p *pageBench) stop(t *testing.T) {
	t.Helper()
	if err := p.daemon.Process.Signal(os.Interrupt); err != nil {
		t.Fatal(err)
	}
	_ = p.daemon.Wait() // how it ended is for other tests
}

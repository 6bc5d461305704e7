package report

import (
	"bytes"
	"context"
	"fmt"
	"image"
	"image/png"
	"net/http"
	"net/http/httptest"
	"os"
	"os/exec"
	"path/filepath"
	"regexp"
	"strconv"
	"strings"
	"testing"
	"time"

	"github.com/chromedp/chromedp"
)

// stories are one of each outcome.
var stories = map[string]story{"pass": {}, "fail": {sags: true, gap: true}, "undecided": {gap: true}}

// written writes a certificate in a format into a file.
func written(t *testing.T, c Certificate, format Format) string {
	t.Helper()
	var paper bytes.Buffer
	must(t, c.Write(&paper, format))
	name := filepath.Join(t.TempDir(), "paper."+format.Extension())
	must(t, os.WriteFile(name, paper.Bytes(), 0o600))
	return name
}

// ran runs a program of the system and returns what it says.
func ran(t *testing.T, name string, args ...string) string {
	t.Helper()
	out, err := exec.CommandContext(t.Context(), name, args...).Output()
	if err != nil {
		t.Fatalf("%s %s: %v", name, strings.Join(args, " "), err)
	}
	return string(out)
}

// rendered turns the pages of a PDF into images (pdftoppm of poppler-utils).
func rendered(t *testing.T, pdf string, dpi int) (pages []image.Image, files []string) {
	t.Helper()
	prefix := filepath.Join(t.TempDir(), "page")
	ran(t, "pdftoppm", "-r", strconv.Itoa(dpi), "-png", pdf, prefix)
	files, err := filepath.Glob(prefix + "*.png")
	must(t, err)
	for _, name := range files {
		file, err := os.Open(name)
		must(t, err)
		picture, err := png.Decode(file)
		must(t, err)
		must(t, file.Close())
		pages = append(pages, picture)
	}
	return pages, files
}

// TestPaperIsRendered holds that another program can read the PDF: its pages are
// A4, its text can be searched, and the code on it says which record it is.
func TestPaperIsRendered(t *testing.T) {
	for name, s := range stories {
		t.Run(name, func(t *testing.T) {
			c := certified(t, s)
			if string(c.Outcome) != name {
				t.Fatalf("outcome %s: %v", c.Outcome, c.Reasons)
			}
			pdf := written(t, c, PDF)
			pages, files := rendered(t, pdf, 150)
			if size := pages[0].Bounds().Size(); size.X < 1238 || size.X > 1242 || size.Y < 1752 || size.Y > 1756 { // 210 by 297 mm, ISO 216
				t.Errorf("a page of %v at 150 dpi is no A4", size)
			}
			for i, page := range pages {
				onLetterToo(t, fmt.Sprintf("page %d", i+1), page)
			}
			if got := strings.TrimSpace(ran(t, "zbarimg", "-q", "--raw", files[0])); got != c.Identity {
				t.Errorf("the code says %q, want %q", got, c.Identity)
			}
			text := ran(t, "pdftotext", "-layout", pdf, "-")
			for _, want := range []string{"B8-0147", strings.ToUpper(name), "rail-5v dc-voltage", "4.75 V to 5.25 V", "Saltmarsh,M6,100234,1.04",
				c.Sheet.Hash, "+0.1460 V ± 0.0085", "soakline 0.9.0", "says that something may be touched", "chain " + c.Chain.Text(), "no calibration"} {
				if !strings.Contains(text, want) {
					t.Errorf("%q is not in the paper", want)
				}
			}
			if strings.Contains(strings.ToLower(text), "safe") {
				t.Error("the paper says safe")
			}
		})
	}
}

// onLetterToo demands that what is printed on an A4 page at 150 dpi lies on Letter, 8.5
// by 11 in (ANSI/ASME Y14.1, from memory), as well, laid at its top or at its bottom.
func onLetterToo(t *testing.T, name string, page image.Image) {
	t.Helper()
	const letter = 11 * 150
	size := page.Bounds().Size()
	for y := range size.Y {
		if y >= size.Y-letter && y < letter {
			continue
		}
		for x := range size.X {
			if r, g, b, _ := page.At(x, y).RGBA(); r+g+b < 3*0xff00 {
				t.Errorf("%s: something is printed at line %d of %d, which is not on Letter", name, y, size.Y)
				return
			}
		}
	}
}

// TestTablesFitAWindow: no table of a certificate, of any outcome, needs to be scrolled
// in a window of 1000 pixels.
func TestTablesFitAWindow(t *testing.T) {
	ctx := browser(t)
	for name, s := range stories {
		page := written(t, certified(t, s), HTML)
		_, err := chromedp.Run(ctx, chromedp.EmulateViewport(1000, 800))
		must(t, err)
		_, err = chromedp.Run(ctx, chromedp.Navigate("file://"+page))
		must(t, err)
		if !evaluated[bool](t, ctx, `[...document.querySelectorAll(".wide")].length >= 2 && [...document.querySelectorAll(".wide")].every(e => e.scrollWidth <= e.clientWidth)`) {
			t.Errorf("%s: a table is wider than its page", name)
		}
		if cells := evaluated[string](t, ctx, `document.querySelector(".wide tbody tr").innerText`); !regexp.MustCompile(`\d to \d\.\d+ V`).MatchString(cells) {
			t.Errorf("%s: from where to where the readings lay is not in %q", name, cells)
		}
	}
}

// TestLabelIsRendered: 62 by 29 mm, and its code can be read at the 203 dpi of a
// label printer (common practice, no source).
func TestLabelIsRendered(t *testing.T) {
	for name, s := range stories {
		c := certified(t, s)
		pdf := written(t, c, Label)
		pages, files := rendered(t, pdf, 203)
		if size := pages[0].Bounds().Size(); len(pages) != 1 || size.X < 495 || size.X > 497 || size.Y < 231 || size.Y > 233 {
			t.Errorf("%s: %d pages of %v, want one of 496 by 232", name, len(pages), size)
		}
		got := strings.TrimSpace(ran(t, "zbarimg", "-q", "--raw", files[0]))
		identity, err := ParseIdentity(got)
		if err != nil || got != c.Identity || identity.Unit != "B8-0147" || identity.Outcome != name || identity.Position != c.Chain.Position ||
			!strings.HasPrefix(c.Chain.Hash, identity.Hash) || identity.Day.Format(time.DateOnly) != "2026-11-24" {
			t.Errorf("%s: the code says %q: %+v, %v", name, got, identity, err)
		}
		if text := ran(t, "pdftotext", "-layout", pdf, "-"); !strings.Contains(text, "B8-0147") || !strings.Contains(text, strings.ToUpper(name)) || !strings.Contains(text, "24 Nov 2026") {
			t.Errorf("%s: the label says %q", name, text)
		}
	}
}

// TestPageIsPrinted opens the page in a browser, which must ask for nothing else,
// and prints it on A4 and on Letter.
func TestPageIsPrinted(t *testing.T) {
	c := certified(t, stories["fail"])
	var paper bytes.Buffer
	must(t, c.Write(&paper, HTML))
	asked := 0
	server := httptest.NewServer(http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		if r.URL.Path != "/" {
			asked++ // a page that is whole by itself asks for nothing
			http.NotFound(w, r)
			return
		}
		w.Header().Set("Content-Type", HTML.ContentType())
		_, _ = w.Write(paper.Bytes())
	}))
	defer server.Close()
	ctx := browser(t)
	_, err := chromedp.Run(ctx, chromedp.Navigate(server.URL+"/"))
	must(t, err)
	title := evaluated[string](t, ctx, `document.title`)
	text := evaluated[string](t, ctx, `document.querySelector("main").innerText`)
	wide := evaluated[bool](t, ctx, `document.documentElement.scrollWidth > document.documentElement.clientWidth`)
	if title != "B8-0147 Brambling 8: record of test" || wide {
		t.Errorf("title %q, wider than the window: %v", title, wide)
	}
	for _, want := range []string{"rail-5v dc-voltage", "4.7002 V", "left its limits", "not discharged", c.Chain.Text()} {
		if !strings.Contains(text, want) {
			t.Errorf("%q is not on the page", want)
		}
	}
	for name, size := range map[string]chromedp.PaperSize{"A4": chromedp.PaperA4, "Letter": chromedp.PaperLetter} {
		pdf, err := chromedp.Run(ctx, chromedp.PrintToPDF(chromedp.PDFPaper(size), chromedp.PDFPrintBackground()))
		must(t, err)
		file := filepath.Join(t.TempDir(), name+".pdf")
		must(t, os.WriteFile(file, pdf, 0o600))
		if pages, _ := rendered(t, file, 50); len(pages) < 2 || len(pages) > 8 {
			t.Errorf("%s: %d pages", name, len(pages))
		}
		if text := ran(t, "pdftotext", "-layout", file, "-"); !strings.Contains(text, "FAIL") || !strings.Contains(text, "undecided") {
			t.Errorf("%s: something is cut off:\n%s", name, text)
		}
	}
	if asked > 1 { // browsers ask for a site's icon by themselves
		t.Errorf("the page asked for %d other things", asked)
	}
}

// browser is a headless Chromium that talks to nobody else; it ends with the test.
func browser(t *testing.T) context.Context {
	t.Helper()
	options := append(chromedp.DefaultExecAllocatorOptions[:], chromedp.NoSandbox,
		chromedp.Flag("disable-background-networking", true), chromedp.UserDataDir(t.TempDir()))
	// Not the test's context: that ends before its clean-up, which waits for the browser.
	allocator, stopAllocator := chromedp.NewExecAllocator(context.Background(), options...)
	tab, stop := chromedp.NewContext(allocator)
	t.Cleanup(func() {
		if err := chromedp.Cancel(tab); err != nil {
			t.Errorf("end the browser: %v", err)
		}
		stop()
		stopAllocator()
	})
	return tab
}

// evaluated is what an expression comes to in the page.
func evaluated[T any](t *testing.T, ctx context.Context, expression string) T {
	t.Helper()
	value, err := chromedp.Run(ctx, chromedp.Evaluate[T](expression))
	if err != nil {
		t.Fatalf("%s: %v", expression, err)
	}
	return value
}

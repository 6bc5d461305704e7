package main

import (
	"bytes"
	"compress/gzip"
	"context"
	"fmt"
	"io"
	"math"
	"math/rand/v2"
	"net/http"
	"os"
	"path/filepath"
	"regexp"
	"testing"
	"time"

	"github.com/chromedp/cdproto/input"
	"github.com/chromedp/chromedp"
	"github.com/chromedp/chromedp/kb"

	"soakline/checks"
	"soakline/device"
	"soakline/device/scpi"
	"soakline/logger/book"
)

// A day's soak in full: 16 test points, 10 readings/s each, 13.8 million in all.
const (
	dayPoints    = 16
	dayPerSecond = 10
	dayReadings  = dayPoints * dayPerSecond * 24 * 60 * 60
)

// dayBegin is when it begins: the excursion is at 03:12, the gap at 14:00.
var (
	dayBegin  = time.Date(2026, 3, 14, 0, 0, 0, 0, time.UTC)
	dayLeft   = dayBegin.Add(3*time.Hour + 12*time.Minute)
	dayBack   = dayLeft.Add(3 * time.Minute)
	dayGap    = dayBegin.Add(14 * time.Hour)
	dayGapEnd = dayGap.Add(20 * time.Minute)
)

// daySheet is the sheet of the day: 16 rails that are alike.
func daySheet() []byte {
	var b bytes.Buffer
	b.WriteString("name: day\nconsole: Brambling 8\nsoak: {duration: 24h, evidence_at_least_pct: 95, longest_gap: 1h}\ntest_points:\n")
	for i := range dayPoints {
		fmt.Fprintf(&b, "  - {name: tp-%c, measure: dc-voltage, every: 100ms, limit: {nominal_v: 5, low_v: 4.75, high_v: 5.25, source: \"common practice, no source\"}}\n", 'a'+i)
	}
	return b.Bytes()
}

func dayPoint(i int) checks.TestPointName { return checks.TestPointName(fmt.Sprintf("tp-%c", 'a'+i)) }

// writeDay writes the day into a book: it was stopped at its end, so that nothing is
// judged anew.
func writeDay(t testing.TB, path string) {
	t.Helper()
	b, err := book.Open(t.Context(), path, book.Options{})
	if err != nil {
		t.Fatal(err)
	}
	defer func() {
		if err := b.Close(); err != nil {
			t.Error(err)
		}
	}()
	if err := b.AddUnit(t.Context(), book.Unit{ID: "B8-0147", Console: "Brambling 8"}); err != nil {
		t.Fatal(err)
	}
	text := daySheet()
	end := dayBegin.Add(24 * time.Hour)
	id, err := b.BeginSoak(t.Context(), book.Soak{Bench: "pier-end", Place: "left", Unit: "B8-0147", Console: "Brambling 8", Begin: dayBegin, Planned: 24 * time.Hour,
		Sheet: book.SheetCopy{Name: "day", Text: text, Hash: book.HashSheet(text)}})
	if err != nil {
		t.Fatal(err)
	}
	writeDayReadings(t, b)
	key := checks.CheckKey{TestPoint: dayPoint(0), Measure: device.DCVoltage}
	ran := func(err error) {
		t.Helper()
		if err != nil {
			t.Fatal(err)
		}
	}
	ran(b.PutExcursion(t.Context(), id, checks.Excursion{Check: key, State: checks.Outside, Edge: checks.LowEdge, From: dayLeft, To: dayBack, Worst: 4.6,
		WorstAt: dayLeft.Add(time.Minute), WorstU: 0.001, Limit: 4.75}))
	ran(b.PutGap(t.Context(), id, checks.Gap{Check: key, From: dayGap, To: dayGapEnd, Cause: "meter silent"}))
	ran(b.EndSoak(t.Context(), id, book.SoakEnded, end, ""))
	ran(b.PutVerdict(t.Context(), id, end, checks.Verdict{Outcome: checks.Fail, SheetName: "day", SheetHash: book.HashSheet(text), Unit: "B8-0147", Begin: dayBegin,
		End: end, Planned: 24 * time.Hour, Evidence: 0.986}))
}

// writeDayReadings streams the readings through the book's own writer.
func writeDayReadings(t testing.TB, b *book.Book) {
	t.Helper()
	writer := book.NewWriter(b, book.WriterOptions{Bound: 1 << 20, CommitEvery: time.Hour, TimeStep: time.Millisecond})
	ctx, stop := context.WithCancel(t.Context())
	ended := make(chan error, 1)
	go func() { ended <- writer.Run(ctx) }()
	random := rand.New(rand.NewPCG(7, 7))
	tags := make([]book.Tag, dayPoints)
	for i := range tags {
		tags[i] = book.Tag{Bench: "pier-end", Console: "Brambling 8", Unit: "B8-0147", TestPoint: dayPoint(i), Instrument: "meter", Measure: device.DCVoltage}
	}
	for n := range dayReadings {
		at := dayBegin.Add(time.Duration(n/dayPoints) * time.Second / dayPerSecond)
		i := n % dayPoints
		if i == 0 && !at.Before(dayGap) && at.Before(dayGapEnd) {
			continue
		}
		level := int64(50121) + random.Int64N(7) + int64(40*math.Sin(float64(n)/3e6+float64(i)))
		if i == 0 && !at.Before(dayLeft) && at.Before(dayBack) {
			level = 46000
		}
		d := scpi.NewDecimal(level, -4)
		if err := writer.Append(book.TaggedReading{Tag: tags[i], Reading: device.Reading{Measure: device.DCVoltage, Value: d.Float64(), Digits: d, At: at, StandardUncertainty: 0.001}}); err != nil {
			t.Fatal(err)
		}
		if n%200_000 == 0 {
			if err := writer.Flush(t.Context()); err != nil {
				t.Fatal(err)
			}
		}
	}
	if err := writer.Flush(t.Context()); err != nil {
		t.Fatal(err)
	}
	stop()
	if err := <-ended; err != nil {
		t.Fatal(err)
	}
}

// TestPageDay opens a day's soak of 13.8 million readings, zooms it by wheel, keys and
// mouse, finds what happened at 03:12 in two clicks, and keeps what is seen as CSV. How long
// it takes from a click to drawn charts is written to the test's log.
func TestPageDay(t *testing.T) {
	p := &pageBench{killedBench: newKilledBench(t), address: freeAddress(t)}
	began := time.Now()
	writeDay(t, p.book)
	t.Logf("%d readings written in %s", dayReadings, time.Since(began).Round(100*time.Millisecond))
	p.serveHere(t)
	b := newBrowser(t)
	b.open(p.url("#/unit/B8-0147"))
	b.until("the soak in the list", `document.querySelector('a[href="#/soak/1"]')`)
	drawn := evaluate[float64](b, `new Promise(done => { const begun = performance.now(); document.querySelector('a[href="#/soak/1"]').click();
		const look = () => performance.getEntriesByName("charts-drawn").length ? done(performance.now() - begun) : requestAnimationFrame(look); look(); })`)
	t.Logf("16 test points of a day: %.0f ms from click to drawn", drawn)
	b.until("16 charts", `document.querySelectorAll(".strip-row canvas").length === 16`)
	if first := evaluate[string](b, `document.querySelector(".strip-row b").textContent`); first != "tp-a" {
		t.Errorf("the chart of the test point that was outside is not first: %s", first)
	}
	b.accessible("a day's soak")
	b.shotEverywhere("day")
	b.size(1440, 900, "light")
	t.Logf("one test point of a day: %.0f ms from click to drawn", evaluate[float64](b, oneChart))
	b.until("it alone", `[...document.querySelectorAll(".strip-row")].filter(r => r.checkVisibility()).length === 1`)
	b.shotEverywhere("day-one")
	b.size(1440, 900, "light")
	b.do(chromedp.Click(chromedp.CSS(`.strip-label button[aria-pressed=true]`)))
	p.whatHappenedAt312(t, b)
	p.zoomed(t, b)
	p.exported(t, b)
}

// oneChart clicks on a test point, so that its chart stands alone, and gives how long
// it takes until it is drawn.
const oneChart = `new Promise(done => { const before = performance.getEntriesByName("charts-drawn").length, begun = performance.now();
	[...document.querySelectorAll(".strip-label button")].find(e => e.textContent.startsWith("tp-b")).click();
	const look = () => performance.getEntriesByName("charts-drawn").length > before ? done(performance.now() - begun) : requestAnimationFrame(look); look(); })`

// span is the stretch of time that the charts show, in seconds since 1970.
func (b *browser) span() (from, to float64) {
	b.t.Helper()
	both := evaluate[[]float64](b, `[Number(document.querySelector(".charts").dataset.from), Number(document.querySelector(".charts").dataset.to)]`)
	return both[0], both[1]
}

// whatHappenedAt312 clicks on the excursion: its time fills the charts.
func (p *pageBench) whatHappenedAt312(t *testing.T, b *browser) {
	t.Helper()
	b.until("the list", `document.querySelectorAll(".happened tbody tr").length === 2`)
	row := evaluate[string](b, `[...document.querySelectorAll(".happened tbody tr")].find(r => r.dataset.state === "outside").innerText`)
	if !regexp.MustCompile(`03:12:00\s+3 min 00 s\s+tp-a dc-voltage\s+outside: 4\.6`).MatchString(row) {
		t.Errorf("the list says %q", row)
	}
	b.do(chromedp.Click(chromedp.JSPath(`[...document.querySelectorAll(".happened tbody tr")].find(r => r.dataset.state === "outside").querySelector("button")`)))
	b.until("the excursion's time", `Number(document.querySelector(".charts").dataset.to) - Number(document.querySelector(".charts").dataset.from) < 600`)
	from, to := b.span()
	if from > float64(dayLeft.Unix()) || to < float64(dayBack.Unix()) {
		t.Errorf("the charts show %.0f to %.0f", from, to)
	}
	b.shotEverywhere("day-0312")
	b.size(1440, 900, "light")
}

// zoomed zooms by keys, the wheel, a drag and the buttons.
func (p *pageBench) zoomed(t *testing.T, b *browser) {
	t.Helper()
	length := func() float64 { from, to := b.span(); return to - from }
	b.do(chromedp.Focus(chromedp.CSS(".charts")))
	b.keys(kb.Home)
	b.until("the whole day", `Number(document.querySelector(".charts").dataset.to) - Number(document.querySelector(".charts").dataset.from) > 86000`)
	b.keys("+")
	if got := length(); math.Abs(got-86400/1.5) > 60 {
		t.Errorf("after + %.0f s are shown", got)
	}
	x := evaluate[[]float64](b, `(() => { const o = document.querySelector(".strip-row .u-over"); o.scrollIntoView({block: "center"}); const r = o.getBoundingClientRect(); return [r.left + r.width / 2, r.top + r.height / 2, r.width]; })()`)
	before := length()
	if _, err := chromedp.Call(b, input.DispatchMouseEvent, input.DispatchMouseEventParams{Type: input.DispatchMouseEventTypeMouseWheel, X: x[0], Y: x[1], DeltaX: 0.01, DeltaY: -100}); err != nil {
		t.Fatal(err)
	}
	b.until("the wheel", fmt.Sprintf(`Number(document.querySelector(".charts").dataset.to) - Number(document.querySelector(".charts").dataset.from) < %f`, before/1.1))
	before = length()
	b.do(chromedp.DragAndDropXY(x[0]-x[2]/8, x[1], x[0]+x[2]/8, x[1], 5))
	b.until("the drag", fmt.Sprintf(`Math.abs((Number(document.querySelector(".charts").dataset.to) - Number(document.querySelector(".charts").dataset.from)) / %f - 0.25) < 0.02`, before))
	if said := evaluate[string](b, `(() => { const o = document.querySelector(".strip-row .u-over"), r = o.getBoundingClientRect();
		for (const kind of ["mouseenter", "mousemove"]) o.dispatchEvent(new MouseEvent(kind, {clientX: r.left + r.width / 2, clientY: r.top + 20, bubbles: true}));
		return new Promise(done => setTimeout(() => done(document.querySelector(".strip-row .readout").textContent), 200)); })()`); !regexp.MustCompile(`^\d\d:\d\d:\d\d  \d`).MatchString(said) {
		t.Errorf("under the pointer stands %q", said)
	}
}

// exported keeps what is seen, and holds it against the book.
func (p *pageBench) exported(t *testing.T, b *browser) {
	t.Helper()
	b.until("readings of the stretch", `performance.now() - performance.getEntriesByName("charts-drawn").at(-1).startTime > 400`)
	// What the browser would keep as a file is kept in the page.
	evaluate[any](b, `(() => { HTMLAnchorElement.prototype.click = () => {}; const make = URL.createObjectURL.bind(URL);
		URL.createObjectURL = blob => { window.saved(blob); return make(blob); }; })()`)
	text := evaluate[string](b, `new Promise(done => { window.saved = blob => blob.text().then(done);
		[...document.querySelectorAll(".tools button")].find(e => e.textContent === "Figures").click(); })`)
	rows := regexp.MustCompile(`(?m)^20[\d-]+T[\d:.]+Z,tp-[a-p],dc-voltage,V,[\d.]+,[\d.]+,[\d.]+\r$`).FindAllString(text, -1)
	if len(rows) < dayPoints*100 {
		t.Errorf("%d rows of figures:\n%.200s", len(rows), text)
	}
	size := evaluate[int](b, `new Promise(done => { window.saved = blob => done(blob.type === "image/png" ? blob.size : -1);
		[...document.querySelectorAll(".tools button")].find(e => e.textContent === "Picture").click(); })`)
	if size < 10_000 {
		t.Errorf("a picture of %d bytes", size)
	}
}

// TestPageIsSmall: all that a first view needs comes to less than 150 kB as it is sent.
func TestPageIsSmall(t *testing.T) {
	p := newPageBench(t)
	total, asked := 0, map[string]bool{}
	var fetchAll func(path string)
	fetchAll = func(path string) {
		if asked[path] {
			return
		}
		asked[path] = true
		request, err := http.NewRequestWithContext(t.Context(), http.MethodGet, "http://"+p.address+path, nil)
		if err != nil {
			t.Fatal(err)
		}
		request.Header.Set("Accept-Encoding", "gzip")
		answer, err := http.DefaultClient.Do(request)
		if err != nil {
			t.Fatal(err)
		}
		defer answer.Body.Close()
		sent, err := io.ReadAll(answer.Body)
		if err != nil || answer.StatusCode != http.StatusOK {
			t.Fatalf("%s: %s, %v", path, answer.Status, err)
		}
		total += len(sent)
		if answer.Header.Get("Content-Encoding") == "gzip" {
			plain, err := gzip.NewReader(bytes.NewReader(sent))
			if err != nil {
				t.Fatal(err)
			}
			if sent, err = io.ReadAll(plain); err != nil {
				t.Fatal(err)
			}
		}
		for _, found := range regexp.MustCompile(`["'(]\.?(/(?:assets/)?[\w.-]+\.(?:js|css|svg))["')]`).FindAllSubmatch(sent, -1) {
			next := string(found[1])
			if _, err := os.Stat(filepath.Join("..", "..", "logger", "page", "web", "dist", filepath.FromSlash(next))); err != nil {
				next = "/assets" + next // a chunk, named beside its own
			}
			fetchAll(next)
		}
	}
	fetchAll("/")
	if len(asked) < 5 {
		t.Errorf("only %d files were found", len(asked))
	}
	t.Logf("the whole page: %d files, %d bytes as they are sent", len(asked), total)
	if total > 150_000 {
		t.Errorf("%d bytes for a first view, at most 150000 are wanted", total)
	}
}

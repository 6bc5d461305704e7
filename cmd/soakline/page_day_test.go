package main

import (
	"fmt"
	"math"
	"regexp"
	"testing"
	"time"

	"github.com/chromedp/cdproto/input"
	"github.com/chromedp/chromedp"
	"github.com/chromedp/chromedp/kb"
)

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
	p.pinched(t, b)
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

// pinched zooms with two fingers, and moves with one.
func (p *pageBench) pinched(t *testing.T, b *browser) {
	t.Helper()
	b.do(chromedp.EmulateViewport(360, 780, chromedp.EmulateTouch))
	at := evaluate[[]float64](b, `(() => { const o = document.querySelector(".strip-row .u-over"); o.scrollIntoView({block: "center"}); const r = o.getBoundingClientRect(); return [r.left + r.width / 2, r.top + r.height / 2]; })()`)
	fingers := func(kind input.DispatchTouchEventType, apart ...float64) {
		t.Helper()
		var points []*input.TouchPoint
		for i, x := range apart {
			id := float64(i)
			points = append(points, &input.TouchPoint{X: at[0] + x, Y: at[1], ID: &id})
		}
		if _, err := chromedp.Call(b, input.DispatchTouchEvent, input.DispatchTouchEventParams{Type: kind, TouchPoints: points}); err != nil {
			t.Fatal(err)
		}
	}
	from, to := b.span()
	fingers(input.DispatchTouchEventTypeTouchStart, -30, 30)
	for _, apart := range []float64{40, 50, 60} {
		fingers(input.DispatchTouchEventTypeTouchMove, -apart, apart)
	}
	fingers(input.DispatchTouchEventTypeTouchEnd)
	b.until("two fingers to zoom", fmt.Sprintf(`Number(document.querySelector(".charts").dataset.to) - Number(document.querySelector(".charts").dataset.from) < %f`, (to-from)*0.6))
	from, _ = b.span()
	fingers(input.DispatchTouchEventTypeTouchStart, -30)
	for _, x := range []float64{-10, 10, 30} {
		fingers(input.DispatchTouchEventTypeTouchMove, x)
	}
	fingers(input.DispatchTouchEventTypeTouchEnd)
	b.until("one finger to move", fmt.Sprintf(`Number(document.querySelector(".charts").dataset.from) < %f`, from-1))
	b.size(1440, 900, "light")
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

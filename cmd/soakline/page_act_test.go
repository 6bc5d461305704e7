package main

import (
	"fmt"
	"net/http"
	"os"
	"path/filepath"
	"testing"

	"github.com/chromedp/chromedp"
	"github.com/chromedp/chromedp/kb"

	"soakline/logger/page"
)

// clickOn clicks the button or link of a text.
func (b *browser) clickOn(text string) {
	b.t.Helper()
	button := fmt.Sprintf(`[...document.querySelectorAll("dialog[open] button, :not(dialog) > * button, a")].filter(e => e.checkVisibility()).findLast(e => e.textContent === %q)`, text)
	b.until("a button "+text, button)
	b.do(chromedp.Click(chromedp.JSPath(button)))
}

// TestPageActions books a unit in, begins its soak, notes something and stops the
// soak, as a person does it: with the keyboard in the dialogs, and with a question
// before something is lost.
func TestPageActions(t *testing.T) {
	p := &pageBench{killedBench: newKilledBench(t), address: freeAddress(t)}
	p.serveHere(t)
	b := newBrowser(t)
	b.open(p.url("#/units"))
	b.clickOn("Book a unit in")
	b.until("the dialog", `document.activeElement.name === "unit"`)
	b.accessible("a dialog")
	b.shotEverywhere("dialog")
	b.size(1440, 900, "light")
	b.keys("B8-0147", kb.Tab, kb.Tab, "picture dim", kb.Tab, kb.Tab, "\r")
	b.until("its own view", `document.querySelector("h1")?.textContent === "B8-0147" && document.querySelector(".log").textContent.includes("picture dim")`)
	b.open(p.url(""))
	b.until("an empty bench", `document.querySelector(".empty").checkVisibility()`)
	b.clickOn("Put a unit on")
	b.until("the dialog", `document.activeElement.name === "unit"`)
	b.keys(kb.Tab, kb.Tab, "0.5", "\r")
	b.until("its lane", `document.querySelector(".lane h2")?.textContent === "B8-0147"`)
	b.do(chromedp.Click(chromedp.CSS(".lane h2 a")))
	b.clickOn("Stop the soak")
	b.until("the question", `document.querySelector("dialog[open] .losing")`)
	b.keys(kb.Escape)
	b.until("nothing lost", `!document.querySelector("dialog") && document.querySelector(".view-head .losing").checkVisibility()`)
	b.clickOn("Stop the soak")
	b.until("the question", `document.activeElement.name === "reason"`)
	b.keys("\r") // without a reason nothing is stopped
	b.until("the question still", `document.querySelector("dialog[open] input:invalid")`)
	b.keys("the bench is needed", "\r")
	b.until("its verdict", `document.querySelector(".stamp")?.checkVisibility() && document.querySelector(".stamp").textContent !== "pass"`)
	var soaks []page.SoakRecordView
	p.get(t, "/api/v1/soaks", &soaks)
	if len(soaks) != 1 || soaks[0].Reason != "the bench is needed" || soaks[0].End == nil || soaks[0].PlannedS != 1800 {
		t.Errorf("soaks %+v", soaks)
	}
}

// TestPageRound takes a whole round from the page with one key: each test point that
// wants a person says what to connect, and the round is in the book at the end.
func TestPageRound(t *testing.T) {
	p := &pageBench{killedBench: newKilledBench(t), address: freeAddress(t)}
	p.serveHere(t)
	p.post(t, "/api/v1/units", page.UnitView{Unit: "B8-0147", Console: "Brambling 8"})
	b := newBrowser(t)
	b.open(p.url("#/unit/B8-0147"))
	b.clickOn("Take a round")
	b.until("the dialog", `document.activeElement.name === "label"`)
	b.keys("as received", "\r")
	for range 10 {
		b.until("a person to be wanted, or the end", `document.activeElement.matches(".step .doing")`)
		if evaluate[bool](b, `document.querySelector(".step").textContent.includes("in the book")`) {
			break
		}
		b.accessible("a step of a round")
		b.shot("round-step")
		b.keys("\r")
	}
	b.accessible("a round's figures")
	b.shotEverywhere("round")
	b.size(1440, 900, "light")
	b.keys("\r")
	b.until("the unit again", `[...document.querySelectorAll("td")].some(e => e.textContent === "as received")`)
	var round page.RoundView
	p.get(t, "/api/v1/units/B8-0147/rounds/as%20received", &round)
	for _, figure := range round.Figures {
		if figure.Asked && figure.Value == nil {
			t.Errorf("%s %s was not measured", figure.TestPoint, figure.Measure)
		}
	}
	if round.End == nil || len(round.Figures) < 20 {
		t.Errorf("round of %d figures, ended %v", len(round.Figures), round.End)
	}
}

// TestPageCharge watches a capacitor's voltage in large figures: a voltage while the
// meter answers, and not known as soon as the daemon is gone.
func TestPageCharge(t *testing.T) {
	p, b := newPageBench(t), newBrowser(t)
	b.expected = []string{"ERR_CONNECTION_REFUSED", "ERR_INCOMPLETE_CHUNKED_ENCODING", "ERR_CONNECTION_RESET", "503"}
	b.open(p.url("#/charge/B8-0147"))
	b.clickOn("Read, watch the voltage")
	b.until("a voltage", `/^1[0-9]\.\d\d$/.test(document.querySelector(".charge-figure b").textContent) && document.querySelector(".phase").textContent === "not falling"`)
	b.accessible("a watched voltage")
	b.shotEverywhere("charge")
	p.kill(t)
	b.until("not known", `document.querySelector(".charge-figure").textContent === "not known" && document.querySelector(".phase").textContent === "not known"`)
	if said := evaluate[string](b, `document.querySelector(".charge-text").textContent`); said != "The bench does not answer: the voltage is not known." {
		t.Errorf("it says %q", said)
	}
	b.shotEverywhere("charge-not-known")
	if safe := evaluate[bool](b, `/\bsafe\b/i.test(document.body.innerText)`); safe {
		t.Error("the page calls something safe")
	}
}

// TestPageToken opens a bench that wants a token: no figure without it, a sentence for
// a wrong one, and the view that was asked for with the right one.
func TestPageToken(t *testing.T) {
	p := &pageBench{killedBench: newKilledBench(t), address: freeAddress(t)}
	if err := os.WriteFile(filepath.Join(filepath.Dir(p.file), "token.txt"), []byte("a token for the pier\n"), 0o600); err != nil {
		t.Fatal(err)
	}
	bench, err := os.ReadFile(p.file)
	if err != nil {
		t.Fatal(err)
	}
	if err := os.WriteFile(p.file, append(bench, "\ntoken_file: token.txt\n"...), 0o600); err != nil {
		t.Fatal(err)
	}
	p.daemon = start(t, binary(t), "serve", "--bench", p.file, "--listen", p.address)
	waitFor(t, "the daemon", func() bool {
		answer, err := http.Get(p.url(""))
		if err != nil {
			return false
		}
		answer.Body.Close()
		return answer.StatusCode == http.StatusOK
	})
	b := newBrowser(t)
	b.expected = []string{"401"}
	b.open(p.url("#/instruments"))
	b.until("the question for a token", `document.activeElement.type === "password" || document.querySelector("input[type=password]")`)
	b.accessible("the token")
	b.do(chromedp.Focus(chromedp.CSS("input[type=password]")))
	b.keys("a wrong one", "\r")
	b.until("a sentence", `document.querySelector(".trouble")?.checkVisibility() && document.querySelector(".trouble").textContent.includes("not the token")`)
	b.do(chromedp.Focus(chromedp.CSS("input[type=password]")))
	evaluate[any](b, `document.querySelector("input[type=password]").select()`)
	b.keys("a token for the pier", "\r")
	b.until("the view that was asked for", `document.querySelectorAll(".instruments-view tbody tr").length === 4`)
}

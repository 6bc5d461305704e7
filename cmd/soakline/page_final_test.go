package main

import (
	"bytes"
	"encoding/json"
	"fmt"
	"net/http"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"soakline/checks"
	"soakline/logger/page"
)

// shortFinal is a final test with a step of each kind that needs no hours.
const shortFinal = `
final:
  decision: {rule: guard-banded, ratio: 1}
  again_at_most: 2
  steps:
    - {name: supply, about: the 5 V rail, measure: rail-5v, causes_low: [regulator or its solder joints]}
    - {name: warm, about: let it settle, wait: 1s}
    - {name: picture, question: "Is the picture steady?", sense: look, causes: [crystal trimmer]}
    - {name: sound, question: "Is there a hum?", sense: listen, passes_with: no, causes: [supply ripple]}
`

// withFinal gives the bench's Brambling 8 the short final test.
func (k *killedBench) withFinal(t *testing.T) {
	t.Helper()
	sheet, err := os.ReadFile(filepath.Join("..", "..", "config", "sheets", "brambling-8.yaml"))
	if err != nil {
		t.Fatal(err)
	}
	sheet, _, _ = bytes.Cut(sheet, []byte("\nfinal:"))
	if err := os.WriteFile(filepath.Join(filepath.Dir(k.file), "short.yaml"), append(sheet, shortFinal...), 0o600); err != nil {
		t.Fatal(err)
	}
	bench, err := os.ReadFile(k.file)
	if err != nil {
		t.Fatal(err)
	}
	bench = bytes.Replace(bench, []byte("- brambling-8\n"), []byte("- short.yaml\n"), 1)
	if err := os.WriteFile(k.file, bench, 0o600); err != nil {
		t.Fatal(err)
	}
}

// TestPageFinal goes through a final test with the keyboard alone, as a foot switch
// would and with Y and N, on a phone; the page's verdict is the API's.
func TestPageFinal(t *testing.T) {
	p := &pageBench{killedBench: newKilledBench(t), address: freeAddress(t)}
	p.withFinal(t)
	p.serveHere(t)
	p.post(t, "/api/v1/units", page.UnitView{Unit: "B8-0147", Console: "Brambling 8"})
	b := newBrowser(t)
	b.size(360, 780, "light")
	b.open(p.url("#/final/B8-0147"))
	b.until("cautions", `document.querySelectorAll(".cautions li").length > 3 && document.activeElement.matches(".doing")`)
	b.accessible("cautions of the final test")
	b.shotEverywhere("final-cautions")
	b.press("\r")
	b.stage("the 5 V rail", "supply")
	b.accessible("a step")
	b.shotEverywhere("final-step")
	b.press("\r")
	b.until("its figure", `document.querySelector(".found .bracket") && document.querySelector(".found .figure b").textContent.length > 3`)
	b.accessible("a step's result")
	b.shotEverywhere("final-result")
	b.press("\r")
	b.stage("to wait", "warm")
	b.press(" ")
	b.until("the wait to be over", `document.querySelector(".final-view .verdict")`)
	b.press("\r")
	b.stage("a question", "picture")
	b.shotEverywhere("final-question")
	b.press("y")
	b.until("the answer", `document.querySelector(".said")?.textContent.includes("yes")`)
	b.press("\r")
	b.stage("another question", "sound")
	b.press("y") // which is not a pass
	b.until("causes", `document.querySelector(".finding")?.textContent.includes("supply ripple")`)
	b.press("r")
	b.stage("the question again", "sound")
	b.press("n")
	b.until("the other answer", `document.querySelector(".said")?.textContent.includes("no")`)
	b.press("\r")
	b.until("the end", `document.querySelector(".step-text h2")?.textContent === "Every step has been taken."`)
	b.press("\r")
	b.until("the verdict", `document.querySelector(".stamp.large")`)
	b.accessible("the verdict")
	b.shotEverywhere("final-verdict")
	shown := evaluate[string](b, `document.querySelector(".stamp.large").textContent`)
	var kept page.FinalView
	p.get(t, "/api/v1/units/B8-0147/final", &kept)
	if kept.End == nil || string(kept.Outcome) != shown {
		t.Errorf("the page shows %q, the API has %q, ended %v", shown, kept.Outcome, kept.End)
	}
	if kept.Steps[3].Taken != 2 || kept.Steps[2].Outcome != checks.Pass {
		t.Errorf("steps %+v", kept.Steps)
	}
	b.clickOn("Take it anew")
	b.stage("the first step again", "supply")
	b.press("s")
	b.until("the question why", `document.activeElement.name === "reason"`)
	b.keys("no probe today", "\r")
	b.stage("the step after it", "warm")
	b.open(p.url("#/figures"))
	b.until("a line of one unit", `document.querySelector(".yield-figure b")?.textContent.endsWith("%")`)
	b.accessible("line figures")
	b.shotEverywhere("figures-of-one")
}

// stage waits until a step is the one on the screen, with something in focus.
func (b *browser) stage(what, step string) {
	b.t.Helper()
	b.until(what, fmt.Sprintf(`document.querySelector(".step-bar [aria-current] span")?.textContent === %q && document.activeElement.matches(".doing")`, step))
}

// press presses a key once the page counts it: it leaves out what a switch that
// bounces adds.
func (b *browser) press(key string) {
	b.t.Helper()
	evaluate[any](b, "new Promise(r => setTimeout(r, 400))")
	b.keys(key)
}

// shotEverywhere leaves a picture on each screen and goes back to the phone.
func (b *browser) shotEverywhere(name string) {
	b.t.Helper()
	for _, screen := range screens {
		b.size(screen.width, screen.height, screen.scheme)
		b.shot(name + "-" + screen.name)
	}
	b.size(360, 780, "light")
}

// get reads an answer of the API.
func (p *pageBench) get(t *testing.T, path string, into any) {
	t.Helper()
	answer, err := http.Get("http://" + p.address + path)
	if err != nil {
		t.Fatal(err)
	}
	defer answer.Body.Close()
	if answer.StatusCode != http.StatusOK {
		t.Fatalf("%s: %s", path, answer.Status)
	}
	if err := json.NewDecoder(answer.Body).Decode(into); err != nil {
		t.Fatalf("%s: %v", path, err)
	}
}

// TestPageRestart kills the daemon under an open page and starts it again: the page
// says so, greys its figures, and is live again by itself.
func TestPageRestart(t *testing.T) {
	p, b := newPageBench(t), newBrowser(t)
	b.expected = []string{"ERR_CONNECTION_REFUSED", "ERR_INCOMPLETE_CHUNKED_ENCODING", "ERR_CONNECTION_RESET", "ERR_EMPTY_RESPONSE", "503"}
	b.open(p.url(""))
	b.until("figures", `document.querySelectorAll(".point:not([data-stale])").length > 10`)
	p.kill(t)
	b.until("word of it", `document.documentElement.hasAttribute("data-stale") && document.querySelector(".banner").checkVisibility()`)
	text := evaluate[string](b, `document.querySelector(".banner").textContent`)
	if !strings.Contains(text, "has not answered since") {
		t.Errorf("the page says %q", text)
	}
	if n := evaluate[int](b, `document.querySelectorAll(".point:not([data-stale])").length`); n != 0 {
		t.Errorf("%d figures still look fresh", n)
	}
	if n := evaluate[int](b, `[...document.querySelectorAll(".point .when")].filter(e => /^last \d\d:\d\d:\d\d$/.test(e.textContent)).length`); n < 10 {
		t.Errorf("only %d figures say how old they are", n)
	}
	b.accessible("a page without its daemon")
	b.shotEverywhere("stale")
	b.size(1440, 900, "light")
	p.serveHere(t)
	b.until("a live page", `!document.documentElement.hasAttribute("data-stale") && !document.querySelector(".banner").checkVisibility() && document.querySelectorAll(".point:not([data-stale])").length > 10`)
}

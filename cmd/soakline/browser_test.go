package main

import (
	"context"
	"fmt"
	"os"
	"path/filepath"
	"strings"
	"sync"
	"testing"
	"time"

	"github.com/chromedp/cdproto/emulation"
	"github.com/chromedp/chromedp"
)

// browser is a headless Chromium with one page, as a user has it before them.
type browser struct {
	context.Context
	t *testing.T
	// expected are parts of messages that the test itself provokes.
	expected []string

	mu       sync.Mutex
	messages []string
}

// browserPatience is how long a page may take for what a test waits for.
const browserPatience = 30 * time.Second

// newBrowser starts a browser that ends with the test, which fails if the page has
// written an error to its console.
func newBrowser(t *testing.T) *browser {
	t.Helper()
	options := append(chromedp.DefaultExecAllocatorOptions[:], chromedp.ExecPath(need(t, "chromium")), chromedp.NoSandbox,
		chromedp.Flag("disable-background-networking", true), chromedp.UserDataDir(t.TempDir()))
	// Not the test's context: that ends before its clean-up, which waits for the browser.
	allocator, stopAllocator := chromedp.NewExecAllocator(context.Background(), options...)
	tab, stop := chromedp.NewContext(allocator)
	b := &browser{Context: tab, t: t}
	messages := chromedp.Console(tab)
	heard := make(chan struct{})
	go func() {
		defer close(heard)
		for message, err := range messages {
			if err != nil {
				return
			}
			if message.IsException() || message.Type == "error" || message.Type == "warning" {
				b.mu.Lock()
				b.messages = append(b.messages, fmt.Sprintf("%s (%s)", message, message.URL))
				b.mu.Unlock()
			}
		}
	}()
	t.Cleanup(func() {
		if err := chromedp.Cancel(tab); err != nil {
			t.Errorf("end the browser: %v", err)
		}
		stop()
		stopAllocator()
		<-heard
		b.checkConsole()
	})
	b.size(1440, 900, "light")
	return b
}

// checkConsole fails the test for what the page has complained of.
func (b *browser) checkConsole() {
	b.mu.Lock()
	defer b.mu.Unlock()
	for _, message := range b.messages {
		known := false
		for _, part := range b.expected {
			known = known || strings.Contains(message, part)
		}
		if !known {
			b.t.Errorf("the page's console: %s", message)
		}
	}
}

// size makes the window as large as a screen, in light or dark.
func (b *browser) size(width, height int64, scheme string) {
	b.t.Helper()
	features := []*emulation.MediaFeature{{Name: "prefers-color-scheme", Value: scheme}, {Name: "prefers-reduced-motion", Value: "reduce"}}
	if _, err := chromedp.Call(b, emulation.SetEmulatedMedia, emulation.SetEmulatedMediaParams{Features: features}); err != nil {
		b.t.Fatal(err)
	}
	b.do(chromedp.EmulateViewport(width, height))
}

// do acts in the page.
func (b *browser) do(steps ...chromedp.Action[chromedp.Void]) {
	b.t.Helper()
	ctx, cancel := context.WithTimeout(b, browserPatience)
	defer cancel()
	if err := chromedp.Do(ctx, steps...); err != nil {
		b.t.Fatal(err)
	}
}

// open goes to an address from another one, so that the page begins anew.
func (b *browser) open(address string) {
	b.t.Helper()
	b.do(chromedp.Navigate("about:blank"), chromedp.Navigate(address))
}

// evaluate gives what an expression, or its promise, comes to in the page.
func evaluate[T any](b *browser, expression string) T {
	b.t.Helper()
	ctx, cancel := context.WithTimeout(b, browserPatience)
	defer cancel()
	value, err := chromedp.Run(ctx, chromedp.Evaluate[T](expression, chromedp.EvalAwaitPromise))
	if err != nil {
		b.t.Fatalf("%s: %v", expression, err)
	}
	return value
}

// until waits for an expression to be true in the page. A page that begins anew
// meanwhile takes the question with it; it is put to the new one.
func (b *browser) until(what, expression string) {
	b.t.Helper()
	ctx, cancel := context.WithTimeout(b, browserPatience)
	defer cancel()
	poll := chromedp.Poll[any]("Boolean("+expression+")", chromedp.WithPollingInterval(20*time.Millisecond))
	_, err := chromedp.Run(ctx, poll)
	for ctx.Err() == nil && begunAnew(err) {
		_, err = chromedp.Run(ctx, poll)
	}
	if err != nil {
		text, _ := chromedp.Run(b, chromedp.Evaluate[string]("document.body.innerText.slice(0, 300)"))
		b.shot("failed-" + strings.ReplaceAll(b.t.Name(), "/", "-"))
		b.t.Fatalf("waited in vain for %s (%s): %v\n%s", what, expression, err, text)
	}
}

// begunAnew says whether the page that was asked has made room for another one.
func begunAnew(err error) bool {
	return err != nil && (strings.Contains(err.Error(), "Cannot find context") ||
		strings.Contains(err.Error(), "Execution context was destroyed"))
}

// keys presses keys one after the other.
func (b *browser) keys(keys ...string) {
	b.t.Helper()
	for _, key := range keys {
		b.do(chromedp.KeyEvent(key))
	}
}

// shots is where pictures of the page are left for a person to look at; git does
// not know it.
var shots = filepath.Join("..", "..", "screenshots")

// shot leaves a picture of what is seen.
func (b *browser) shot(name string) {
	b.t.Helper()
	picture, err := chromedp.Run(b, chromedp.CaptureScreenshot())
	if err != nil {
		b.t.Fatal(err)
	}
	if err := os.MkdirAll(shots, 0o755); err != nil {
		b.t.Fatal(err)
	}
	if err := os.WriteFile(filepath.Join(shots, name+".png"), picture, 0o644); err != nil {
		b.t.Fatal(err)
	}
}

// accessible holds what is seen against axe-core's rules; whatever it calls serious
// or critical fails the test.
func (b *browser) accessible(view string) {
	b.t.Helper()
	script, err := os.ReadFile(filepath.Join("..", "..", "logger", "page", "web", "node_modules", "axe-core", "axe.min.js"))
	if err != nil {
		b.t.Fatalf("axe-core is not here (make page brings it): %v", err)
	}
	if !evaluate[bool](b, "typeof axe === 'object'") {
		b.do(chromedp.Func(func(ctx context.Context, _ *chromedp.Target) error {
			_, err := chromedp.Run(ctx, chromedp.Evaluate[any](string(script)+"; 0"))
			return err
		}))
	}
	type violation struct {
		ID, Impact, Help string
		Nodes            []struct{ HTML, FailureSummary string }
	}
	found := evaluate[[]violation](b, `axe.run(document, {resultTypes: ["violations"]}).then(r => r.violations.map(v => ({ID: v.id, Impact: v.impact, Help: v.help, Nodes: v.nodes.slice(0, 3).map(n => ({HTML: n.html.slice(0, 200), FailureSummary: n.failureSummary}))})))`)
	for _, v := range found {
		if v.Impact == "serious" || v.Impact == "critical" {
			b.t.Errorf("%s: %s (%s): %s\n%+v", view, v.ID, v.Impact, v.Help, v.Nodes)
		} else {
			b.t.Logf("%s: %s (%s): %s", view, v.ID, v.Impact, v.Help)
		}
	}
}

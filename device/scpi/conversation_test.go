package scpi_test

import (
	"bytes"
	"context"
	"errors"
	"fmt"
	"io"
	"strings"
	"testing"
	"testing/synctest"
	"time"

	"soakline/device/scpi"
	"soakline/device/scpi/scpitest"
)

// memory is a line whose instrument answers every message at once. A waiting Read
// that has nothing to bring fails with err, or its ctx's deadline.
type memory struct {
	answer  func(message []byte) []byte
	arrived []byte
	sent    []byte
	err     error
}

func (m *memory) Write(_ context.Context, p []byte) error {
	if m.err != nil {
		return m.err
	}
	m.sent = append(m.sent[:0], p...)
	m.arrived = append(m.arrived, m.answer(p)...)
	return nil
}

func (m *memory) Read(ctx context.Context, p []byte) (int, error) {
	switch {
	case len(m.arrived) > 0:
		n := copy(p, m.arrived)
		m.arrived = m.arrived[:copy(m.arrived, m.arrived[n:])]
		return n, nil
	case ctx.Err() != nil:
		return 0, ctx.Err()
	case m.err != nil:
		return 0, m.err
	}
	return 0, context.DeadlineExceeded
}

func (m *memory) Discard() error {
	m.arrived = m.arrived[:0]
	return nil
}

func always(text string) *memory {
	return &memory{answer: func([]byte) []byte { return []byte(text) }}
}

func TestSendEndings(t *testing.T) {
	for ending, want := range map[string]string{"": "*RST\n", "lf": "*RST\n", "cr": "*RST\r", "crlf": "*RST\r\n"} {
		line := always("")
		if err := scpi.NewConversation(line, scpi.Framing{SendEnding: ending}).Send(t.Context(), "*RST"); err != nil || string(line.sent) != want {
			t.Errorf("ending %q sends %q, %v", ending, line.sent, err)
		}
	}
	c := scpi.NewConversation(always("1\n"), scpi.Framing{SendEnding: "lfcr"})
	_, askErr := c.Ask(t.Context(), "*OPC?")
	_, resyncErr := c.Resync(t.Context(), "*IDN?", isIdentity, 0)
	for _, err := range []error{c.Send(t.Context(), "*RST"), askErr, resyncErr} {
		if err == nil || !strings.Contains(err.Error(), `"lfcr": must be lf, cr or crlf`) {
			t.Errorf("an ending that is none: %v", err)
		}
	}
}

// S-11, S-12: what would leave an answer behind, or be two messages, is not sent.
func TestRefusedMessages(t *testing.T) {
	line := always("1\n")
	c := scpi.NewConversation(line, scpi.Framing{})
	if err := c.Send(t.Context(), "CONF:VOLT;:READ?"); !errors.Is(err, scpi.ErrBadMessage) || line.sent != nil {
		t.Errorf("a query was sent without being asked: %v", err)
	}
	if _, err := c.Ask(t.Context(), "*OPC?\n*IDN?"); !errors.Is(err, scpi.ErrBadMessage) || line.sent != nil {
		t.Errorf("two messages in one were sent: %v", err)
	}
	if answer, err := c.Ask(t.Context(), "*OPC?"); err != nil || answer.Text != "1" {
		t.Errorf("what was never sent must not put out of step: %v", err)
	}
}

func TestArrivalTime(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		talk, err := scpitest.ParseTalk("late", strings.NewReader("> A?\n~ 1500100ns\n< 1\n~ 2ms\n< 2\n"))
		if err != nil {
			t.Fatal(err)
		}
		begin := time.Now()
		c := scpi.NewConversation(scpitest.Play(talk), scpi.Framing{})
		answer, err := c.Ask(t.Context(), "A?")
		if err != nil || answer.At.Sub(begin) != 1500*time.Microsecond || answer.At.Nanosecond()%1000 != 0 {
			t.Errorf("arrived after %v, %v", answer.At.Sub(begin), err)
		}
		next, err := c.NextLine(t.Context())
		if err != nil || next.At.Sub(begin) != 3500*time.Microsecond {
			t.Errorf("the next came after %v, %v", next.At.Sub(begin), err)
		}
	})
}

func TestArrivalIsMonotonic(t *testing.T) {
	answer, err := scpi.NewConversation(always("1\n"), scpi.Framing{}).Ask(t.Context(), "*OPC?")
	if err != nil || answer.At.Nanosecond()%1000 != 0 || !strings.Contains(answer.At.String(), " m=") {
		t.Errorf("arrived at %v, %v", answer.At, err)
	}
}

func TestLineWithoutEnd(t *testing.T) {
	line := always(strings.Repeat("7", 1<<20))
	c := scpi.NewConversation(line, scpi.Framing{})
	_, err := c.Ask(t.Context(), "READ?")
	var garbage *scpi.GarbageError
	if !errors.As(err, &garbage) || len(garbage.Raw) > 200 {
		t.Errorf("a line of 1 MiB: %.300v", err)
	}
	if len(line.arrived) < 1<<19 {
		t.Errorf("%d bytes were read of a line without end", 1<<20-len(line.arrived))
	}
}

func TestLongAnswer(t *testing.T) {
	record := strings.Repeat("1.5,", 50_000) + "2"
	c := scpi.NewConversation(always(record+"\n"), scpi.Framing{})
	answer, err := c.AskLong(t.Context(), "WAV:DATA?", 1<<20)
	if err != nil || answer.Text != record {
		t.Errorf("a record of %d bytes: %d, %v", len(record), len(answer.Text), err)
	}
	if _, err := c.Ask(t.Context(), "WAV:DATA?"); !errors.Is(err, scpi.ErrGarbage) {
		t.Errorf("the same as a plain answer: %v", err)
	}
}

func TestFirehoseEnds(t *testing.T) {
	hose := &firehose{}
	ctx, cancel := context.WithTimeout(t.Context(), 20*time.Millisecond)
	defer cancel()
	c := scpi.NewConversation(hose, scpi.Framing{})
	if _, err := c.Ask(ctx, "READ?"); !errors.Is(err, scpi.ErrGarbage) {
		t.Errorf("asking: %.200v", err)
	}
	stale, err := c.Resync(ctx, "*IDN?", isIdentity, time.Millisecond)
	if !errors.Is(err, scpi.ErrSilence) || len(stale) == 0 || len(stale) > 200 {
		t.Errorf("resynchronising: %d lines, %v", len(stale), err)
	}
}

// firehose never stops, whatever it is asked.
type firehose struct{ memory }

func (*firehose) Write(context.Context, []byte) error { return nil }
func (*firehose) Read(_ context.Context, p []byte) (int, error) {
	return copy(p, bytes.Repeat([]byte("5.0121\n"), len(p)/7+1)), nil
}

func TestLineErrorsPassThrough(t *testing.T) {
	unplugged := errors.New("no such device")
	line := always("1\n")
	c := scpi.NewConversation(line, scpi.Framing{})
	line.err = unplugged
	_, askErr := c.Ask(t.Context(), "*OPC?")
	_, _, blockErr := scpi.NewConversation(line, scpi.Framing{}).AskBlock(t.Context(), "CURV?", 10)
	_, lineErr := scpi.NewConversation(line, scpi.Framing{}).NextLine(t.Context())
	_, resyncErr := scpi.NewConversation(line, scpi.Framing{}).Resync(t.Context(), "*IDN?", isIdentity, 0)
	for _, err := range []error{askErr, blockErr, lineErr, resyncErr, scpi.NewConversation(line, scpi.Framing{}).Send(t.Context(), "*RST")} {
		if !errors.Is(err, unplugged) || errors.Is(err, scpi.ErrGarbage) {
			t.Errorf("%v", err)
		}
	}
	line.err = nil
	if _, err := c.Ask(t.Context(), "*OPC?"); !errors.Is(err, scpi.ErrOutOfStep) {
		t.Errorf("asking on after a lost line: %v", err)
	}
}

// failing is a line that fails from its n-th call on.
type failing struct {
	*memory
	calls int
}

var errPlug = errors.New("plug pulled")

func (f *failing) left() error {
	if f.calls--; f.calls < 0 {
		return errPlug
	}
	return nil
}

func (f *failing) Write(ctx context.Context, p []byte) error {
	if err := f.left(); err != nil {
		return err
	}
	return f.memory.Write(ctx, p)
}

func (f *failing) Read(ctx context.Context, p []byte) (int, error) {
	if err := f.left(); err != nil {
		return 0, err
	}
	return f.memory.Read(ctx, p)
}

func (f *failing) Discard() error {
	if err := f.left(); err != nil {
		return err
	}
	return f.memory.Discard()
}

// S-P1, S-P2: which call notices an unplugging is a matter of luck. Whichever it
// is, the error comes out, and the conversation is out of step.
func TestPlugPulledAnywhere(t *testing.T) {
	answers := func(message []byte) []byte {
		switch string(message) {
		case "*IDN?\n":
			return []byte("Saltmarsh,M6,0,0\n")
		case "CURV?\n":
			return []byte("#13ABC\n")
		}
		return nil
	}
	ctx := t.Context()
	for name, do := range map[string]func(c *scpi.Conversation) error{
		"resync": func(c *scpi.Conversation) error {
			_, err := c.Resync(ctx, "*IDN?", isIdentity, 0)
			return err
		},
		"ask": func(c *scpi.Conversation) error {
			_, err := c.Ask(ctx, "*IDN?")
			return err
		},
		"block": func(c *scpi.Conversation) error {
			_, _, err := c.AskBlock(ctx, "CURV?", 3)
			return err
		},
	} {
		calls := 0
		for ; calls < 20; calls++ {
			c := scpi.NewConversation(&failing{memory: &memory{answer: answers}, calls: calls}, scpi.Framing{})
			err := do(c)
			if err == nil {
				break
			}
			if !errors.Is(err, errPlug) {
				t.Errorf("%s, call %d: %v", name, calls, err)
			}
			if _, err := c.Ask(ctx, "*IDN?"); !errors.Is(err, scpi.ErrOutOfStep) {
				t.Errorf("%s, call %d, asking on: %v", name, calls, err)
			}
		}
		if calls < 3 || calls == 20 {
			t.Errorf("%s works after %d calls", name, calls)
		}
	}
}

func TestEscape(t *testing.T) {
	for raw, want := range map[string]string{
		"5.0\t\x00\xff\\": `5.0\x09\x00\xff\\`, "": "", strings.Repeat("a", 120): strings.Repeat("a", 120),
		strings.Repeat("a", 121): strings.Repeat("a", 120) + "... (121 bytes)",
	} {
		if got := scpi.Escape([]byte(raw)); got != want {
			t.Errorf("%q: %s", raw, got)
		}
	}
}

func TestCancelled(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		ctx, cancel := context.WithCancel(t.Context())
		talk, _ := scpitest.ParseTalk("silent", strings.NewReader("> A?\n"))
		c := scpi.NewConversation(scpitest.Play(talk), scpi.Framing{})
		time.AfterFunc(time.Second, cancel)
		if _, err := c.Ask(ctx, "A?"); !errors.Is(err, context.Canceled) || errors.Is(err, scpi.ErrSilence) {
			t.Errorf("cancelled while waiting: %v", err)
		}
		if _, err := scpi.NewConversation(always("1\n"), scpi.Framing{}).Ask(ctx, "A?"); !errors.Is(err, context.Canceled) {
			t.Errorf("cancelled before asking: %v", err)
		}
	})
}

func TestEndlessErrorQueue(t *testing.T) {
	entries, err := scpi.NewConversation(always("-350,\"Queue overflow\"\n"), scpi.Framing{}).DrainErrors(t.Context(), "SYST:ERR?")
	if !errors.Is(err, scpi.ErrEndlessQueue) || len(entries) != 256 {
		t.Errorf("%d entries, %v", len(entries), err)
	}
}

func TestIdentify(t *testing.T) {
	c := scpi.NewConversation(always("Saltmarsh,M6,0,1.04\r\n"), scpi.Framing{})
	if who, err := c.Identify(t.Context(), "*IDN?"); err != nil || who.Model != "M6" || who.Serial != "" {
		t.Errorf("%+v, %v", who, err)
	}
	c = scpi.NewConversation(always("5.0121\n"), scpi.Framing{})
	if _, err := c.Identify(t.Context(), "*IDN?"); !errors.Is(err, scpi.ErrGarbage) {
		t.Errorf("a reading as identity: %v", err)
	}
	if _, err := c.Ask(t.Context(), "READ?"); !errors.Is(err, scpi.ErrOutOfStep) {
		t.Errorf("asking on after the answer to another question: %v", err)
	}
}

// An answer must never be taken for the next one's: whatever fails, no question
// can be asked before Resync.
func TestNoAskAfterTrouble(t *testing.T) {
	for _, bad := range []string{"", "5.0", "\x00\n", "5.0\x13\n", "\xff\n", "READ?\n", "5\r0\n"} {
		line := always(bad)
		c := scpi.NewConversation(line, scpi.Framing{})
		if answer, err := c.Ask(t.Context(), "READ?"); err == nil {
			t.Errorf("%q became the answer %q", bad, answer.Text)
		}
		line.answer = func([]byte) []byte { return []byte("Saltmarsh,M6,0,0\n") }
		if _, err := c.Ask(t.Context(), "READ?"); !errors.Is(err, scpi.ErrOutOfStep) {
			t.Errorf("after %q: %v", bad, err)
		}
		if _, _, err := c.AskBlock(t.Context(), "CURV?", 10); !errors.Is(err, scpi.ErrOutOfStep) {
			t.Errorf("after %q, a block: %v", bad, err)
		}
		if _, err := c.Resync(t.Context(), "*IDN?", isIdentity, 0); err != nil {
			t.Errorf("after %q: %v", bad, err)
		}
		if _, err := c.Ask(t.Context(), "READ?"); err != nil {
			t.Errorf("after %q and Resync: %v", bad, err)
		}
	}
}

func TestStaleIsTold(t *testing.T) {
	line := always("1\n")
	line.arrived = []byte(strings.Repeat("9\n", 100))
	answer, err := scpi.NewConversation(line, scpi.Framing{}).Ask(t.Context(), "*OPC?")
	if err != nil || answer.Text != "1" || len(answer.Stale) != 65 || answer.Stale[64] != "... and 36 more lines" {
		t.Errorf("%+v, %v", answer, err)
	}
	line.arrived = []byte("8\n")
	line.answer = func([]byte) []byte { return []byte("#12ab\n") }
	c := scpi.NewConversation(line, scpi.Framing{})
	if _, _, err := c.AskBlock(t.Context(), "CURV?", 2); err != nil {
		t.Fatal(err)
	}
	line.answer = func([]byte) []byte { return []byte("2\n") }
	if answer, err = c.Ask(t.Context(), "*OPC?"); err != nil || fmt.Sprint(answer.Stale) != "[8]" {
		t.Errorf("what a block found waiting is told by the next answer: %+v, %v", answer, err)
	}
}

// FuzzConversation lets an instrument send anything: every call ends, and what is
// given out as an answer is printable text that was sent.
func FuzzConversation(f *testing.F) {
	f.Add([]byte("5.0121\n"), []byte("0,\"No error\"\n"), false)
	f.Add([]byte("#15HELLO\n"), []byte("Saltmarsh,M6,0,1\r\n"), true)
	f.Add([]byte("\x00\x13\xff"), []byte("#9999999999"), false)
	f.Fuzz(func(t *testing.T, before, answer []byte, cr bool) {
		line := always(string(answer))
		line.arrived = append([]byte(nil), before...)
		framing := scpi.Framing{}
		if cr {
			framing.SendEnding = "cr"
		}
		c := scpi.NewConversation(line, framing)
		ctx := t.Context()
		for range 3 {
			got, err := c.Ask(ctx, "READ?")
			if err == nil && (!bytes.Contains(answer, []byte(got.Text)) || strings.ContainsAny(got.Text, "\x00\r\n\x13")) {
				t.Fatalf("%q gave the answer %q", answer, got.Text)
			}
			data, _, err := c.AskBlock(ctx, "CURV?", 1000)
			if err == nil && !bytes.Contains(answer, data) {
				t.Fatalf("%q gave the block %q", answer, data)
			}
			line.arrived = append(line.arrived, before...)
			_, _ = c.NextLine(ctx)
			_, _ = c.DrainErrors(ctx, "SYST:ERR?")
			_, _ = c.Identify(ctx, "*IDN?")
			_, _ = c.Resync(ctx, "*IDN?", isIdentity, 0)
		}
		line.err = io.ErrUnexpectedEOF
		if _, err := c.Ask(ctx, "READ?"); err == nil {
			t.Fatal("an answer from a line that is gone")
		}
	})
}

func BenchmarkAsk(b *testing.B) {
	reply := []byte("+5.01210000E+00\r\n")
	line := &memory{answer: func([]byte) []byte { return reply }}
	c := scpi.NewConversation(line, scpi.Framing{})
	ctx := b.Context()
	b.ReportAllocs()
	for b.Loop() {
		if _, err := c.Ask(ctx, "MEAS:VOLT:DC?"); err != nil {
			b.Fatal(err)
		}
	}
}

func BenchmarkAskBlock(b *testing.B) {
	reply := []byte("#44800" + strings.Repeat("x", 4800) + "\n") // S-74
	line := &memory{answer: func([]byte) []byte { return reply }}
	c := scpi.NewConversation(line, scpi.Framing{})
	ctx := b.Context()
	b.SetBytes(4800)
	b.ReportAllocs()
	for b.Loop() {
		if _, _, err := c.AskBlock(ctx, "WAV:DATA?", 4800); err != nil {
			b.Fatal(err)
		}
	}
}

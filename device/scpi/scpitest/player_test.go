package scpitest

import (
	"context"
	"errors"
	"io"
	"strings"
	"testing"
	"testing/synctest"
	"time"
)

func mustParse(t *testing.T, text string) *Talk {
	t.Helper()
	talk, err := ParseTalk("talk", strings.NewReader(text))
	if err != nil {
		t.Fatal(err)
	}
	return talk
}

func TestParseTalkSaysWhere(t *testing.T) {
	for text, want := range map[string]string{
		"# fine\n? what":   `talk:2: "? what" begins no step`,
		"> A\n\nx 0":       "talk:3: encoding/hex: odd length hex string",
		"x zz":             "talk:1: encoding/hex: invalid byte: U+007A 'z'",
		"~ soon":           `talk:1: time: invalid duration "soon"`,
		"! fire":           `talk:1: fault "fire": only hang-up is known`,
		"= lf":             `talk:1: endings "lf": want two of lf, cr, crlf`,
		"= lf tab":         `talk:1: endings "lf tab": want two of lf, cr, crlf`,
		"Saltmarsh,M6,0,0": `talk:1: "Saltmarsh,M6,0,0" begins no step`,
	} {
		if _, err := ParseTalk("talk", strings.NewReader(text)); err == nil || err.Error() != want {
			t.Errorf("%q: %v, want %s", text, err, want)
		}
	}
	if _, err := ParseTalk("talk", strings.NewReader("# "+strings.Repeat("x", 1<<17))); err == nil {
		t.Error("a line of 128 KiB")
	}
}

// What the program leaves out, adds or alters must fail Close.
func TestCloseFails(t *testing.T) {
	const talk = "> A?\n< 1\n> B\n"
	cases := []struct {
		name, want string
		do         func(p *Player)
	}{
		{"nothing done", `talk:1: not in the talk: > "A?\n" not used`, func(*Player) {}},
		{"answer not read", `talk:2: not in the talk: < "1\n" not used`, func(p *Player) { write(p, "A?\n") }},
		{"answer skipped", `talk:0: not in the talk: "1\n" not read`, func(p *Player) { write(p, "A?\nB\n") }},
		{"half a message", `talk:1: not in the talk: half a message "A"`, func(p *Player) { write(p, "A") }},
		{"another message", `talk:1: not in the talk: sent "C\n", wanted "A?\n"`, func(p *Player) { write(p, "C\n") }},
		{"one too many", `talk:0: not in the talk: "D\n" sent after the end`, func(p *Player) { write(p, "A?\n", "B\n", "D\n") }},
		{"no end to wait for", `talk:1: not in the talk: waiting without end for an answer`, func(p *Player) {
			_, _ = p.Read(context.WithoutCancel(context.Background()), make([]byte, 1))
		}},
	}
	for _, c := range cases {
		p := Play(mustParse(t, talk))
		c.do(p)
		if err := p.Close(); !errors.Is(err, ErrOffScript) || err.Error() != c.want {
			t.Errorf("%s: %v, want %s", c.name, err, c.want)
		}
	}
}

// write sends pieces one by one; what is off the script shows in Close.
func write(p *Player, pieces ...string) {
	for _, piece := range pieces {
		_ = p.Write(context.Background(), []byte(piece))
	}
}

func TestPlayedToItsEnd(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		p := Play(mustParse(t, "< stale\n> A?\n~ 20ms\n< 1\nx 00 ff\n! hang-up\n"))
		if err := p.Discard(); err != nil {
			t.Fatal(err)
		}
		write(p, "A", "?\n")
		begin, buf := time.Now(), make([]byte, 1)
		var got []byte
		for {
			n, err := p.Read(t.Context(), buf)
			if err != nil {
				if !errors.Is(err, ErrHangUp) {
					t.Error(err)
				}
				break
			}
			got = append(got, buf[:n]...)
		}
		if string(got) != "1\n\x00\xff" || time.Since(begin) != 20*time.Millisecond {
			t.Errorf("%q after %v", got, time.Since(begin))
		}
		if err := p.Write(t.Context(), []byte("A?\n")); !errors.Is(err, ErrHangUp) {
			t.Errorf("writing after the hang-up: %v", err)
		}
		if err := p.Close(); err != nil {
			t.Error(err)
		}
	})
}

func TestReadObeysDeadline(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		p := Play(mustParse(t, "~ 1s\n< late\n> A\n"))
		begin := time.Now()
		for _, patience := range []time.Duration{0, 300 * time.Millisecond, 699 * time.Millisecond} {
			ctx, cancel := context.WithTimeout(t.Context(), patience)
			if _, err := p.Read(ctx, make([]byte, 9)); !errors.Is(err, context.DeadlineExceeded) {
				t.Errorf("after %v: %v", time.Since(begin), err)
			}
			cancel()
		}
		if n, err := p.Read(t.Context(), make([]byte, 9)); n != 5 || err != nil || time.Since(begin) != time.Second {
			t.Errorf("%d bytes, %v, after %v", n, err, time.Since(begin))
		}
		ctx, cancel := context.WithCancel(t.Context())
		cancel()
		if _, err := p.Read(ctx, make([]byte, 9)); !errors.Is(err, context.Canceled) {
			t.Errorf("waiting for the program: %v", err)
		}
	})
}

func FuzzParseTalk(f *testing.F) {
	f.Add("= crlf cr\n> A?\n~ 20ms\n< 1\\\nx 00ff\n! hang-up\n# end")
	f.Fuzz(func(t *testing.T, text string) {
		talk, err := ParseTalk("talk", io.LimitReader(strings.NewReader(text), 1<<12))
		if err != nil {
			return
		}
		p := Play(talk)
		if err := p.Discard(); err != nil {
			t.Fatal(err)
		}
		write(p, "A?\n")
		_ = p.Close()
	})
}

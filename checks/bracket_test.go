package checks_test

import (
	"math"
	"strings"
	"testing"
	"unicode/utf8"

	"pgregory.net/rapid"

	"soakline/checks"
)

func TestBracket(t *testing.T) {
	nan, inf := math.NaN(), math.Inf(1)
	ripple := simple(-inf, 0.1)
	centred := ripple
	centred.Nominal = 0.05
	for _, row := range []struct {
		name               string
		limit              checks.Limit
		u                  float64
		reading, low, high float64
		state              checks.State
		want               string
	}{
		{"in the middle", simple(4.75, 5.25), 0, 5, 4.9, 5.1, checks.Within, "    [    ·──|──·    ]    "},
		{"nowhere else yet", simple(4.75, 5.25), 0, 5, nan, nan, checks.Within, "    [       |       ]    "},
		{"guard band", band(4.75, 5.25, 1), 0.03, 5.20, 5.1, 5.20, checks.Borderline, "    [░░        ·──|░]    "},
		{"on the limit it has not left", simple(4.75, 5.25), 0, 5.25, 5.25, 5.25, checks.Within, "    [              |]    "},
		{"on the low limit", simple(4.75, 5.25), 0, 4.75, 4.75, 4.75, checks.Within, "    [|              ]    "},
		{"left at the top", simple(4.75, 5.25), 0, 5.3, 5.2, 5.3, checks.Outside, "    [             ·─]─|  "},
		{"left at the bottom, far", simple(4.75, 5.25), 0, 1, 1, 5, checks.Outside, "|───[───────·       ]    "},
		{"silent", simple(4.75, 5.25), 0, 5, 4.9, 5.1, checks.Silent, "    [  . . . . . .  ]    "},
		{"settling", simple(4.75, 5.25), 0, nan, nan, nan, checks.Settling, "    :               :    "},
		{"not known, yet not silent", simple(4.75, 5.25), 0, nan, nan, nan, checks.Within, "    [               ]    "},
		{"one end, from 0", ripple, 0, 0.05, 0.05, 0.05, checks.Within, "            |       ]    "},
		{"one end, about the nominal", centred, 0, 0.12, 0.05, 0.12, checks.Outside, "            ·───────]───|"},
		{"one end, beyond the drawn part", ripple, 0, -3, -3, -3, checks.Within, "|                   ]    "},
		{"one end low, at 0, not known", simple(0, inf), 0, nan, nan, nan, checks.Silent, "    [  . . . . . .       "},
		{"guard bands leave nothing", band(4.75, 5.25, 1), 0.2, 5, 5, 5, checks.Borderline, "    [░░░░░░░|░░░░░░░]    "},
	} {
		b := checks.Bracket{Limit: row.limit, U: row.u, Reading: row.reading, Low: row.low, High: row.high, State: row.state}
		if got := b.Text(); got != row.want {
			t.Errorf("%s\ngot  %q\nwant %q", row.name, got, row.want)
		}
	}
}

// Every bracket is as wide as every other, whatever it is given.
func TestBracketKeepsItsWidth(t *testing.T) {
	odd := rapid.OneOf(rapid.Float64(), rapid.Float64Range(-10, 10), rapid.SampledFrom([]float64{math.NaN(), math.Inf(1), math.Inf(-1), 0}))
	rapid.Check(t, func(t *rapid.T) {
		b := checks.Bracket{
			Limit: band(odd.Draw(t, "low limit"), odd.Draw(t, "high limit"), 1), U: odd.Draw(t, "u"),
			Reading: odd.Draw(t, "reading"), Low: odd.Draw(t, "low"), High: odd.Draw(t, "high"),
			State: rapid.SampledFrom(checks.States()).Draw(t, "state"),
		}
		b.Limit.Nominal = odd.Draw(t, "nominal")
		text := b.Text()
		if utf8.RuneCountInString(text) != checks.BracketWidth || len(checks.ASCII(text)) != checks.BracketWidth {
			t.Fatalf("%q is %d wide", text, utf8.RuneCountInString(text))
		}
		if b.State == checks.Silent && strings.Contains(text, "|") {
			t.Fatalf("silent with a tick: %q", text)
		}
	})
}

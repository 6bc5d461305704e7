package scpi

import (
	"errors"
	"slices"
	"strings"
	"testing"
)

func TestSplitResponse(t *testing.T) {
	cases := []struct {
		message, source string
		want            [][]Element
	}{
		{"5.0121", "IEEE 488.2, 8.4", [][]Element{{{Bare, "5.0121", 0}}}},
		{"1, 2 ;3", "S-21", [][]Element{{{Bare, "1", 0}, {Bare, "2", 3}}, {{Bare, "3", 6}}}},
		{`-113,"Undefined header;x,y"`, "IEEE 488.2, 8.7.8", [][]Element{{{Bare, "-113", 0}, {Quoted, "Undefined header;x,y", 5}}}},
		{`"say ""on"""`, "IEEE 488.2, 8.7.8: doubled", [][]Element{{{Quoted, `say "on"`, 0}}}},
		{`'it''s';''`, "IEEE 488.2, 7.7.5", [][]Element{{{Quoted, "it's", 0}}, {{Quoted, "", 8}}}},
		{"#15A;,\"E,2", "S-40: separators inside a block are data", [][]Element{{{Block, "A;,\"E", 0}, {Bare, "2", 9}}}},
		{"1;#0ab;c", "S-42: to the end", [][]Element{{{Bare, "1", 0}}, {{Block, "ab;c", 2}}}},
		{"#HFF,DEF", "S-19", [][]Element{{{Bare, "#HFF", 0}, {Bare, "DEF", 5}}}},
		{"(@101,102),2", "SCPI-1999, channel list", [][]Element{{{Bare, "(@101,102)", 0}, {Bare, "2", 11}}}},
		{"", "an empty answer is kept", [][]Element{{{Bare, "", 0}}}},
		{"1,,3", "S-37: an empty field is kept", [][]Element{{{Bare, "1", 0}, {Bare, "", 2}, {Bare, "3", 3}}}},
	}
	for _, c := range cases {
		got, err := SplitResponse(c.message)
		if err != nil || !slices.EqualFunc(got, c.want, slices.Equal) {
			t.Errorf("%s (%s):\n got %v, %v\nwant %v", c.message, c.source, got, err, c.want)
		}
	}
}

func TestSplitResponseSaysWhere(t *testing.T) {
	for message, offset := range map[string]int{
		`1,"open`: 2, `1,2"x"`: 3, `"a"b`: 3, "#15HELL": 0, "1;#2x5HELLO": 2, "1\x00": 1, "1,\xb5": 2, "(@1,2": 0, "#15HELLOX": 8,
	} {
		_, err := SplitResponse(message)
		var syntax *SyntaxError
		if !errors.As(err, &syntax) || syntax.Offset != offset {
			t.Errorf("%q: %v, want it at byte %d", message, err, offset)
		}
	}
}

func TestSyntaxErrorText(t *testing.T) {
	_, err := Field("1,2", 2)
	if want := "response message at byte 3: no field 2, the answer has fields 0 to 1"; err == nil || err.Error() != want {
		t.Errorf("%v, want %s", err, want)
	}
}

func TestField(t *testing.T) {
	for _, c := range []struct {
		message string
		index   int
		want    string
		ok      bool
	}{
		{" 5.0121 ", 0, "5.0121", true},
		{"5.0121", 1, "", false},
		{"5.0121", -1, "", false},
		{"1,2;3", 2, "3", true},
		{"1,2;3", 3, "", false},
		{`0,"No error"`, 1, "No error", true},
		{`"open`, 0, "", false},
		{"", 0, "", true},
	} {
		got, err := Field(c.message, c.index)
		if got != c.want || (err == nil) != c.ok {
			t.Errorf("%q field %d: %q, %v", c.message, c.index, got, err)
		}
	}
}

func FuzzSplitResponse(f *testing.F) {
	for _, seed := range []string{"1,2;3", `-113,"Undefined header"`, "#15HELLO,1", "#0abc", "(@1,2)", `'it''s'`, ",;,", "#9999999999"} {
		f.Add(seed)
	}
	f.Fuzz(func(t *testing.T, message string) {
		answers, err := SplitResponse(message)
		var syntax *SyntaxError
		if err != nil {
			if !errors.As(err, &syntax) || syntax.Offset < 0 || syntax.Offset > len(message) {
				t.Fatalf("%q: %v", message, err)
			}
			return
		}
		last := -1
		for _, answer := range answers {
			for _, e := range answer {
				if e.Offset <= last && last >= 0 || e.Offset > len(message) {
					t.Fatalf("%q: offsets %v", message, answers)
				}
				last = e.Offset
				if e.Kind != Quoted && !strings.Contains(message[e.Offset:], e.Text) {
					t.Fatalf("%q: %q is not in it", message, e.Text)
				}
			}
		}
	})
}

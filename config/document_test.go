package config

import (
	"bytes"
	"strings"
	"testing"
)

const smallSheet = `name: s
console: Brambling 8
soak: {duration: 24h}
test_points:
  - name: rail-5v
    measure: dc-voltage
    limit: {low_v: 4.75, high_v: 5.25, source: W-02}
`

// The rows are our own rules for a file's text; YAML 1.2 clause 5.2 allows the
// byte order mark, clause 5.4 the line endings.
func TestTextThatIsNoFileOfOurs(t *testing.T) {
	rows := []struct {
		name, text, want string
	}{
		{"empty", "", "f:1: the file is empty"},
		{"blank lines", "\n\n", "f:1: the file is empty"},
		{"a dash and nothing", "---\n", "f:1: the file is empty"},
		{"latin-1", "name: s\nconsole: Caf\xe9\n", "f:2: the text is not UTF-8: save the file as UTF-8"},
		{"utf-16", "\xff\xfen\x00a\x00", "f:1: the text is not UTF-8: save the file as UTF-8"},
		{"a nul byte", "name: \x00\n", "f:1: not well-formed YAML: control characters are not allowed"},
		{"too large", strings.Repeat("#", largestFile+1), "f: the file is larger than 1 MiB, which no such file needs to be"},
		{"unclosed at the end", "name: s\nconsole: 'x\n", "f:2: not well-formed YAML: found unexpected end of stream"},
		{"bad indentation far down", "name: s\nconsole: x\nsoak:\n  duration: 1h\n longest_gap: 1m\n", "f:5: not well-formed YAML: did not find expected key"},
		{"second document is broken", smallSheet + "---\n[\n", "f:9: not well-formed YAML: did not find expected node content"},
	}
	for _, row := range rows {
		t.Run(row.name, func(t *testing.T) {
			_, err := ParseSheet("f", []byte(row.text))
			if err == nil || err.Error() != row.want {
				t.Errorf("got  %v\nwant %s", err, row.want)
			}
		})
	}
}

func TestTextThatEditorsLeaveBehind(t *testing.T) {
	rows := map[string]string{
		"plain":              smallSheet,
		"byte order mark":    "\ufeff" + smallSheet,
		"carriage returns":   strings.ReplaceAll(smallSheet, "\n", "\r\n"),
		"no last line end":   strings.TrimSuffix(smallSheet, "\n"),
		"document start":     "---\n" + smallSheet,
		"document start end": "---\n" + smallSheet + "...\n",
	}
	for name, text := range rows {
		t.Run(name, func(t *testing.T) {
			sheet, err := ParseSheet("f", []byte(text))
			if err != nil || len(sheet.TestPoints) != 1 || sheet.TestPoints[0].Checks[0].Limit.High != 5.25 {
				t.Errorf("got %+v, %v", sheet, err)
			}
		})
	}
}

// Lines count the same whatever ends them.
func TestLineOfAMistakeWithCarriageReturns(t *testing.T) {
	text := strings.ReplaceAll(strings.Replace(smallSheet, "high_v", "hihg_v", 1), "\n", "\r\n")
	_, err := ParseSheet("f", []byte(text))
	all := Mistakes(err)
	if len(all) != 1 || all[0].Line != 7 || all[0].Column != 26 || all[0].Suggestion != `"high_v"` {
		t.Errorf("got %+v (%v)", all, err)
	}
}

// A nest of aliases would unfold to a thousand million items; a deep nest of lists
// would exhaust the stack.
func TestBombsAreRefusedAtOnce(t *testing.T) {
	var nest bytes.Buffer
	nest.WriteString("a0: &a0 [x, x, x, x, x, x, x, x, x, x]\n")
	for i := 1; i < 10; i++ {
		n := string(rune('0' + i))
		p := string(rune('0' + i - 1))
		nest.WriteString("a" + n + ": &a" + n + " [" + strings.TrimSuffix(strings.Repeat("*a"+p+", ", 10), ", ") + "]\n")
	}
	for name, text := range map[string]string{
		"aliases": nest.String(),
		"lists":   "a: " + strings.Repeat("[", 5000) + strings.Repeat("]", 5000),
	} {
		if _, err := ParseSheet(name, []byte(text)); err == nil {
			t.Errorf("%s: no mistake", name)
		}
	}
}

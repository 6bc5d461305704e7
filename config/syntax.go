package config

import (
	"bytes"
	"errors"
	"io"
	"regexp"
	"strconv"
	"strings"

	"go.yaml.in/yaml/v3"
)

var yamlLine = regexp.MustCompile(`^yaml: (?:line (\d+): )?(.*)`)

// notYAML reports text that is not well-formed YAML 1.2.
func (d *document) notYAML(text []byte, err error) {
	if tab := tabIndent(text); tab > 0 {
		d.mistakef(position{line: tab}, "", "the line is indented with a tab: use spaces")
		return
	}
	m := yamlLine.FindStringSubmatch(strings.ReplaceAll(err.Error(), "\n", " "))
	if m == nil {
		m = []string{"", "", err.Error()}
	}
	line := brokenLine(text)
	if line == 0 {
		line, _ = strconv.Atoi(m[1]) // no digits: no line
		if strings.HasPrefix(m[2], "did not find expected") {
			line++ // the library counts these from 0, all others from 1
		}
	}
	d.mistakef(position{line: line}, "", "not well-formed YAML: %s", m[2])
}

// longestSearched bounds the search for a broken line, which costs its square, and
// open brackets bound it because the parser's own time grows with their square.
const longestSearched = 32 << 10

// brokenLine returns the line that makes the text ill-formed: the one after the
// longest beginning that is well-formed. The parser itself names the line where
// the surrounding group began, which may be far above. 0 if the text is too long
// or too nested to search.
func brokenLine(text []byte) int {
	if len(text) > longestSearched || openBrackets(text) > deepest {
		return 0
	}
	end := len(text)
	for n := bytes.Count(text, []byte("\n")); n > 0; n-- {
		end = bytes.LastIndexByte(text[:max(0, end-1)], '\n') + 1
		if wellFormed(text[:end]) {
			return 1 + bytes.Count(text[:end], []byte("\n"))
		}
	}
	return 1
}

// openBrackets is the largest number of brackets and braces that are open at once,
// quoted ones included.
func openBrackets(text []byte) int {
	open, most := 0, 0
	for _, c := range text {
		switch c {
		case '[', '{':
			open++
			most = max(most, open)
		case ']', '}':
			open = max(0, open-1)
		}
	}
	return most
}

func wellFormed(text []byte) bool {
	decoder := yaml.NewDecoder(bytes.NewReader(text))
	for {
		var n yaml.Node
		if err := decoder.Decode(&n); err != nil {
			return errors.Is(err, io.EOF)
		}
	}
}

// tabIndent returns the first line whose indentation holds a tab, or 0.
func tabIndent(text []byte) int {
	n := 0
	for line := range bytes.Lines(text) {
		n++
		rest := bytes.TrimLeft(line, " ")
		if len(rest) > 0 && rest[0] == '\t' && len(bytes.TrimSpace(rest)) > 0 {
			return n
		}
	}
	return 0
}

package simbench

import (
	"context"
	"strconv"
	"strings"
)

// keyword is one level of a header in its two spellings; # in a pattern marks one
// that takes a numeric suffix.
type keyword struct {
	long, short        string
	optional, suffixed bool
}

// command is what one header does.
type command struct {
	keywords []keyword
	query    bool
	run      func(*call) error
}

// commands are all that an instrument understands.
type commands []command

// add takes a header as manuals print it, "MEASure[:SCALar]:VOLTage[:DC]?": the
// capitals are the short form, brackets may be left out.
func (c *commands) add(pattern string, run func(*call) error) {
	text, query := strings.CutSuffix(pattern, "?")
	cmd := command{query: query, run: run}
	text = strings.ReplaceAll(text, "[:", ":[")
	text = strings.TrimPrefix(strings.ReplaceAll(text, ":]", "]:"), ":")
	for word := range strings.SplitSeq(text, ":") {
		var k keyword
		if word, k.optional = strings.CutPrefix(word, "["); k.optional {
			word = strings.TrimSuffix(word, "]")
		}
		word, k.suffixed = strings.CutSuffix(word, "#")
		k.long = strings.ToUpper(word)
		k.short = strings.TrimRightFunc(word, func(r rune) bool { return r >= 'a' && r <= 'z' })
		cmd.keywords = append(cmd.keywords, k)
	}
	*c = append(*c, cmd)
}

// find returns the command for a header path and the suffixes in it.
func (c commands) find(path []string, query bool) (*command, []int, error) {
	for i := range c {
		if c[i].query != query {
			continue
		}
		if suffixes, ok := match(c[i].keywords, path, nil); ok {
			return &c[i], suffixes, nil
		}
	}
	for _, word := range path {
		if len(word) > 12 {
			return nil, nil, failure(-112, word)
		}
	}
	header := strings.Join(path, ":")
	if query {
		header += "?"
	}
	return nil, nil, failure(-113, header)
}

// match walks the keywords along the path; an optional keyword may be missing.
func match(keywords []keyword, path []string, suffixes []int) ([]int, bool) {
	if len(keywords) == 0 {
		return suffixes, len(path) == 0
	}
	k := keywords[0]
	if len(path) > 0 {
		if suffix, ok := k.matches(path[0]); ok {
			with := suffixes
			if k.suffixed {
				with = append(suffixes[:len(suffixes):len(suffixes)], suffix)
			}
			if out, ok := match(keywords[1:], path[1:], with); ok {
				return out, true
			}
		}
	}
	if k.optional {
		return match(keywords[1:], path, suffixes)
	}
	return nil, false
}

// matches compares one word, in any letter case; only the long and the short
// form count. A missing suffix is 1.
func (k keyword) matches(word string) (int, bool) {
	suffix := 1
	if k.suffixed {
		bare := strings.TrimRight(word, "0123456789")
		if digits := word[len(bare):]; digits != "" {
			n, err := strconv.Atoi(digits)
			if err != nil {
				return 0, false
			}
			suffix = n
		}
		word = bare
	}
	return suffix, strings.EqualFold(word, k.long) || strings.EqualFold(word, k.short)
}

// call is one program message unit on its way; it lives no longer than ctx.
type call struct {
	*instrument
	ctx      context.Context
	header   string
	args     []string
	suffixes []int
	answer   []byte
	// number marks an answer that is a reading, which the overflow fault may
	// replace.
	number bool
}

// split cuts a program message at its semicolons and its parameters at their
// commas, leaving quotes and parentheses whole.
func split(text string, at byte) []string {
	var parts []string
	depth, quote, from := 0, byte(0), 0
	for i := range len(text) {
		switch b := text[i]; {
		case quote != 0:
			if b == quote {
				quote = 0
			}
		case b == '"' || b == '\'':
			quote = b
		case b == '(':
			depth++
		case b == ')':
			depth--
		case b == at && depth <= 0:
			parts = append(parts, text[from:i])
			from = i + 1
		}
	}
	return append(parts, text[from:])
}

// white is IEEE 488.2's white space: 0 to 9 and 11 to 32.
func white(r rune) bool { return r <= 32 && r != '\n' }

// parseUnit reads one message unit. path is where the unit before it left the
// header; a leading colon starts at the root, a common command leaves it alone.
func parseUnit(text string, path []string) (head, next, args []string, query bool, err error) {
	text = strings.TrimFunc(text, white)
	header, rest := text, ""
	if i := strings.IndexFunc(text, white); i >= 0 {
		header, rest = text[:i], strings.TrimFunc(text[i:], white)
	}
	header, query = strings.CutSuffix(header, "?")
	for _, r := range header {
		if r > 126 || !strings.ContainsRune(":*_", r) && !letterOrDigit(r) {
			return nil, path, nil, false, failure(-101, "")
		}
	}
	if rest != "" {
		for _, a := range split(rest, ',') {
			args = append(args, strings.TrimFunc(a, white))
		}
	}
	if strings.HasPrefix(header, "*") {
		return []string{header}, path, args, query, nil
	}
	words := strings.Split(strings.TrimPrefix(header, ":"), ":")
	if !strings.HasPrefix(header, ":") {
		words = append(path[:len(path):len(path)], words...)
	}
	for _, w := range words {
		if w == "" {
			return nil, path, nil, query, failure(-102, "")
		}
	}
	return words, words[:len(words)-1], args, query, nil
}

func letterOrDigit(r rune) bool {
	return r >= 'a' && r <= 'z' || r >= 'A' && r <= 'Z' || r >= '0' && r <= '9'
}

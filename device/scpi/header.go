package scpi

import "strings"

// ShortForm is the short form of a keyword, in upper case: a keyword of up to four
// letters as it is, a longer one its first four, or three where the fourth is a
// vowel (S-14; SCPI-1999, vol. 1, 6.2.1).
func ShortForm(keyword string) string {
	upper := strings.ToUpper(keyword)
	switch {
	case len(upper) <= 4:
		return upper
	case strings.IndexByte("AEIOU", upper[3]) >= 0:
		return upper[:3]
	default:
		return upper[:4]
	}
}

// Matches tells whether a header is a spelling of a pattern as manuals write it:
// "MEASure[:SCALar]:VOLTage[:DC]?". Each keyword may have its long or its short
// form and nothing between (S-15), in any case; keywords in brackets may be left
// out; a suffix of 1 may be left out (S-16). The capitals in the pattern are the
// short form.
func Matches(pattern, header string) bool {
	patternQuery, headerQuery := strings.HasSuffix(pattern, "?"), strings.HasSuffix(header, "?")
	if patternQuery != headerQuery || header == "" {
		return false
	}
	nodes := patternNodes(strings.TrimSuffix(pattern, "?"))
	given := strings.Split(strings.TrimPrefix(strings.TrimSuffix(header, "?"), ":"), ":")
	return matchNodes(nodes, given)
}

// node is one keyword of a pattern.
type node struct {
	keyword  string
	optional bool
}

// patternNodes takes a pattern apart at its colons and brackets.
func patternNodes(pattern string) []node {
	var nodes []node
	start, optional := 0, false
	for i := 0; i <= len(pattern); i++ {
		if i < len(pattern) && strings.IndexByte(":[]", pattern[i]) < 0 {
			continue
		}
		if keyword := pattern[start:i]; keyword != "" {
			nodes = append(nodes, node{keyword, optional})
		}
		if start = i + 1; i < len(pattern) && pattern[i] != ':' {
			optional = pattern[i] == '['
		}
	}
	return nodes
}

// matchNodes matches the given keywords, trying every optional one both ways.
func matchNodes(nodes []node, given []string) bool {
	if len(nodes) == 0 {
		return len(given) == 0
	}
	if len(given) > 0 && matchKeyword(nodes[0].keyword, given[0]) && matchNodes(nodes[1:], given[1:]) {
		return true
	}
	return nodes[0].optional && matchNodes(nodes[1:], given)
}

// matchKeyword compares one keyword, with its numeric suffix.
func matchKeyword(pattern, given string) bool {
	want, wantSuffix := cutSuffix(pattern)
	got, gotSuffix := cutSuffix(given)
	if wantSuffix != gotSuffix {
		return false
	}
	short := strings.TrimRight(want, "abcdefghijklmnopqrstuvwxyz")
	return strings.EqualFold(got, want) || strings.EqualFold(got, short)
}

// cutSuffix splits "OUTPut2"; without digits the suffix is 1.
func cutSuffix(keyword string) (name, suffix string) {
	name = strings.TrimRight(keyword, "0123456789")
	if suffix = strings.TrimLeft(keyword[len(name):], "0"); suffix == "" && len(name) == len(keyword) {
		suffix = "1"
	}
	return name, suffix
}

package config

import (
	"fmt"
	"slices"
	"strings"

	"go.yaml.in/yaml/v3"

	"soakline/device"
)

// section is one mapping of a file. Whoever reads it asks for the keys he knows;
// done reports those that nobody asked for, so the code that reads a key is the
// only list of keys there is. All methods are harmless on a nil section: it stands
// for one that is missing and was reported.
type section struct {
	doc   *document
	node  *yaml.Node
	path  string
	asked []string
	odd   map[string]bool // keys with a mistake of their own, not unknown besides
}

// need says whether a key may be left out.
type need bool

const (
	required need = true
	optional need = false
)

// top is the whole file; nil if there is nothing to read in it.
func (d *document) top() *section {
	if d.root == nil {
		return nil
	}
	return d.section(d.root, "")
}

func (d *document) section(n *yaml.Node, path string) *section {
	return &section{doc: d, node: n, path: path, odd: map[string]bool{}}
}

// has tells whether the key stands in the section, asking for it or not.
func (s *section) has(key string) bool { return s.find(key) != nil }

// find returns a key's value without asking for it; of two the first.
func (s *section) find(key string) *yaml.Node {
	if s == nil {
		return nil
	}
	for i := 0; i+1 < len(s.node.Content); i += 2 {
		if k := s.node.Content[i]; k.Kind == yaml.ScalarNode && k.Value == key {
			return s.node.Content[i+1]
		}
	}
	return nil
}

// keys lists the section's keys in the order of the file.
func (s *section) keys() []string {
	var all []string
	if s == nil {
		return nil
	}
	for i := 0; i+1 < len(s.node.Content); i += 2 {
		if k := s.node.Content[i]; k.Kind == yaml.ScalarNode {
			all = append(all, k.Value)
		}
	}
	return all
}

// value returns the key's node, or nil if it is not there or has no value.
func (s *section) value(key string, n need) *yaml.Node {
	if s == nil {
		return nil
	}
	s.asked = append(s.asked, key)
	v := s.find(key)
	switch {
	case v == nil && n == required:
		s.doc.mistakef(position{s.node.Line, s.node.Column}, under(s.path, key), "is missing")
	case v == nil:
	case v.Kind == yaml.AliasNode:
		return nil // reported by the survey
	case v.ShortTag() == "!!null":
		s.wrong(key, "has no value")
		return nil
	}
	return v
}

// wrong reports a mistake at the section's key.
func (s *section) wrong(key, format string, args ...any) *Mistake {
	path := under(s.path, key)
	return s.doc.mistakef(s.doc.places[path], path, format, args...)
}

// text returns a scalar as it is spelled in the file: a channel 101 needs no
// quotes. It is "" if the key is not there.
func (s *section) text(key string, n need) string {
	v := s.value(key, n)
	if v == nil {
		return ""
	}
	if v.Kind != yaml.ScalarNode {
		s.wrong(key, "must be one word or a line of text, not %s", kindOf(v))
		return ""
	}
	if strings.TrimSpace(v.Value) == "" {
		s.wrong(key, "is empty")
	}
	return v.Value
}

// textOr is text with a value for the key left out.
func (s *section) textOr(key, otherwise string) string {
	if !s.has(key) {
		s.value(key, optional)
		return otherwise
	}
	return s.text(key, optional)
}

// measure returns a measure, reporting a name that stands for none.
func (s *section) measure(key string, n need) device.Measure {
	m := device.Measure(s.text(key, n))
	if m != "" && !m.Known() {
		var known []string
		for _, k := range device.Measures() {
			known = append(known, string(k))
		}
		s.noSuch(key, "measure", string(m), known)
	}
	return m
}

// oneOf returns one of the known words; otherwise if the key is left out.
func (s *section) oneOf(key, kind, otherwise string, known ...string) string {
	word := s.textOr(key, otherwise)
	if word != otherwise && !slices.Contains(known, word) {
		s.noSuch(key, kind, word, known)
	}
	return word
}

// noSuch reports a name that stands for nothing and offers the nearest.
func (s *section) noSuch(key, kind, name string, known []string) {
	why := &device.NameError{Kind: kind, Name: name, Known: known}
	s.wrong(key, "%v", why).suggest(why)
}

// texts returns a list of lines.
func (s *section) texts(key string, n need) []string {
	var all []string
	for i, item := range s.items(key, n) {
		if item.Kind != yaml.ScalarNode || item.ShortTag() == "!!null" {
			s.wrong(fmt.Sprintf("%s[%d]", key, i), "must be one word or a line of text, not %s", kindOf(item))
			continue
		}
		all = append(all, item.Value)
	}
	return all
}

// items returns the nodes of a list. A required one may not be empty.
func (s *section) items(key string, n need) []*yaml.Node {
	v := s.value(key, n)
	if v == nil {
		return nil
	}
	if v.Kind != yaml.SequenceNode {
		s.wrong(key, "must be a list (lines that begin with a dash), not %s", kindOf(v))
		return nil
	}
	if len(v.Content) == 0 && n == required {
		s.wrong(key, "is an empty list")
	}
	return v.Content
}

// list returns the sections of a list; one that is no group of keys is nil, so
// that the others keep their numbers.
func (s *section) list(key string, n need) []*section {
	var all []*section
	for i, item := range s.items(key, n) {
		at := fmt.Sprintf("%s[%d]", key, i)
		if item.Kind != yaml.MappingNode {
			s.wrong(at, "must be a group of keys, not %s", kindOf(item))
			all = append(all, nil)
			continue
		}
		all = append(all, s.doc.section(item, under(s.path, at)))
	}
	return all
}

// sub returns the section under a key, nil if there is none.
func (s *section) sub(key string, n need) *section {
	v := s.value(key, n)
	if v == nil {
		return nil
	}
	if v.Kind != yaml.MappingNode {
		s.wrong(key, "must be a group of keys, not %s", kindOf(v))
		return nil
	}
	return s.doc.section(v, under(s.path, key))
}

// done reports the keys that nobody asked for.
func (s *section) done() {
	for _, key := range s.keys() {
		if slices.Contains(s.asked, key) || s.odd[key] {
			continue
		}
		m := s.wrong(key, "there is no such key here")
		s.odd[key] = true
		if near := nearest(key, s.asked); near != "" {
			m.Suggestion = fmt.Sprintf("%q", near)
		} else {
			m.Sentence += "; known are " + strings.Join(slices.Sorted(slices.Values(s.asked)), ", ")
		}
	}
}

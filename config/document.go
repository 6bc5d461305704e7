package config

import (
	"bytes"
	"errors"
	"fmt"
	"io"
	"strconv"
	"unicode/utf8"

	"go.yaml.in/yaml/v3"
)

// largestFile is more than any file of a bench comes to.
const largestFile = 1 << 20

// deepest is how far keys may be nested; no file of a bench goes beyond 6.
const deepest = 32

// document is one file that is being read: its tree, where each key stands, and
// the mistakes found so far.
type document struct {
	file     string
	root     *yaml.Node // the top mapping; nil if there is none to read
	places   map[string]position
	texts    map[string]string // what stands at each key that holds a single value
	hushed   map[string]bool   // keys that a Validate has no right word for
	mistakes []*Mistake
}

// position counts from 1, as editors do; 0 is no position.
type position struct{ line, column int }

// parse reads the text of one file as far as it can be read. What is wrong with
// the text is among the document's mistakes.
func parse(file string, text []byte) *document {
	d := &document{file: file, places: map[string]position{}, texts: map[string]string{}, hushed: map[string]bool{}}
	switch {
	case len(text) > largestFile:
		d.mistakef(position{}, "", "the file is larger than %d MiB, which no such file needs to be", largestFile>>20)
		return d
	case !utf8.Valid(text):
		line := 1 + bytes.Count(text[:firstInvalid(text)], []byte("\n"))
		d.mistakef(position{line: line}, "", "the text is not UTF-8: save the file as UTF-8")
		return d
	}
	if root := d.tree(text); root != nil {
		d.survey(root, "", 0)
		d.root = root
	}
	return d
}

// firstInvalid returns the index of the first byte that is not UTF-8.
func firstInvalid(text []byte) int {
	for i := 0; i < len(text); {
		r, size := utf8.DecodeRune(text[i:])
		if r == utf8.RuneError && size <= 1 {
			return i
		}
		i += size
	}
	return len(text)
}

// tree returns the file's one mapping. Decoding into nodes does not follow aliases,
// so a file that would unfold to millions of items stays as small as its text.
func (d *document) tree(text []byte) *yaml.Node {
	decoder := yaml.NewDecoder(bytes.NewReader(text))
	var doc, more yaml.Node
	if err := decoder.Decode(&doc); err != nil {
		if errors.Is(err, io.EOF) {
			d.mistakef(position{line: 1}, "", "the file is empty")
		} else {
			d.notYAML(text, err)
		}
		return nil
	}
	if err := decoder.Decode(&more); err == nil {
		d.mistakef(position{more.Line, more.Column}, "", "a second document begins here: one file holds one")
	} else if !errors.Is(err, io.EOF) {
		d.notYAML(text, err)
	}
	root := doc.Content[0]
	if root.Kind != yaml.MappingNode {
		if root.ShortTag() == "!!null" {
			d.mistakef(position{line: 1}, "", "the file is empty")
		} else {
			d.mistakef(position{root.Line, root.Column}, "", "the file must hold keys with values (key: value), not %s", kindOf(root))
		}
		return nil
	}
	return root
}

// survey notes where every key stands and reports what no file of ours uses,
// whatever its keys: aliases, tags, keys given twice, keys that are no words.
func (d *document) survey(n *yaml.Node, path string, depth int) {
	at := position{n.Line, n.Column}
	if _, known := d.places[path]; !known {
		d.places[path] = at
	}
	if depth > deepest {
		d.mistakef(at, "", "keys are nested deeper than any file of a bench needs")
		return
	}
	switch {
	case n.Kind == yaml.AliasNode || n.Anchor != "":
		d.mistakef(at, path, "anchors and aliases (& and *) are not used here: write the value out")
	case n.Style&yaml.TaggedStyle != 0:
		d.mistakef(at, path, "tags (%s) are not used here: write the plain value", n.Tag)
	}
	switch n.Kind {
	case yaml.MappingNode:
		d.surveyKeys(n, path, depth)
	case yaml.ScalarNode:
		d.texts[path] = n.Value
	case yaml.SequenceNode:
		for i, item := range n.Content {
			d.survey(item, fmt.Sprintf("%s[%d]", path, i), depth+1)
		}
	}
}

// surveyKeys notes the keys of one mapping. Of a key that stands there twice the
// first counts, so that the rest of the file is still read with it.
func (d *document) surveyKeys(n *yaml.Node, path string, depth int) {
	first := map[string]int{}
	for i := 0; i+1 < len(n.Content); i += 2 {
		key, value := n.Content[i], n.Content[i+1]
		at := position{key.Line, key.Column}
		if key.Kind != yaml.ScalarNode {
			d.mistakef(at, path, "a key must be a word, not %s", kindOf(key))
			continue
		}
		inner := under(path, key.Value)
		if line, twice := first[key.Value]; twice {
			d.mistakef(at, inner, "the key stands here a second time, first in line %d", line)
			continue
		}
		first[key.Value] = key.Line
		d.places[inner] = at
		d.survey(value, inner, depth+1)
	}
}

// under is the path of a key within a path; the top of the file has none.
func under(path, key string) string {
	if path == "" {
		return key
	}
	return path + "." + key
}

// kindOf names what a node is, for a person.
func kindOf(n *yaml.Node) string {
	switch n.Kind {
	case yaml.MappingNode:
		return "a group of keys"
	case yaml.SequenceNode:
		return "a list"
	case yaml.AliasNode:
		return "an alias"
	}
	if n.ShortTag() == "!!null" {
		return "nothing"
	}
	return strconv.Quote(shortened(n.Value))
}

// shortened keeps a quoted value on one readable line.
func shortened(s string) string {
	const most = 60
	if r := []rune(s); len(r) > most {
		return string(r[:most]) + "..."
	}
	return s
}

// mistakef adds a mistake and returns it, so that a suggestion can be added.
func (d *document) mistakef(at position, key, format string, args ...any) *Mistake {
	m := &Mistake{File: d.file, Line: at.line, Column: at.column, Key: key, Sentence: fmt.Sprintf(format, args...)}
	d.mistakes = append(d.mistakes, m)
	return m
}

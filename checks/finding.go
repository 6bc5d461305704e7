package checks

import (
	"errors"
	"fmt"
	"slices"
)

// FindingCode names a kind of finding for machines: "level-high", "no-sync".
type FindingCode string

// Finding is something that was noticed about a unit or the bench, in words for
// a person.
type Finding struct {
	Code  FindingCode `json:"code"`
	State State       `json:"state"`
	// Text says what was found with its figures, Advice what to do about it.
	Text   string `json:"text"`
	Advice string `json:"advice"`
	// HidesBehind are the findings that explain this one: where one of them is
	// found as well, this one need not be shown.
	HidesBehind []FindingCode `json:"-"`
}

// FindingKind declares a code: the sentence of its findings, in the form of
// fmt.Sprintf, and what else they share.
type FindingKind struct {
	Code        FindingCode
	Sentence    string
	Advice      string
	HidesBehind []FindingCode
}

// FindingTable holds the codes that one package declares.
type FindingTable struct {
	kinds []FindingKind
	index map[FindingCode]int
}

// NewFindingTable returns a table of kinds. It fails, telling every mistake, if a
// code is empty or declared twice, has no sentence, or hides behind a code that is
// not in the table or behind itself.
func NewFindingTable(kinds ...FindingKind) (*FindingTable, error) {
	t := &FindingTable{kinds: slices.Clone(kinds), index: make(map[FindingCode]int, len(kinds))}
	var all []error
	for i, k := range kinds {
		if _, twice := t.index[k.Code]; twice {
			all = append(all, fmt.Errorf("finding %q is declared twice", k.Code))
		}
		if k.Code == "" || k.Sentence == "" {
			all = append(all, fmt.Errorf("finding %d (%q) has no code or no sentence", i, k.Code))
		}
		t.index[k.Code] = i
	}
	for _, k := range kinds {
		for _, cause := range k.HidesBehind {
			if _, known := t.index[cause]; !known || cause == k.Code {
				all = append(all, fmt.Errorf("finding %q can't hide behind %q", k.Code, cause))
			}
		}
	}
	if len(all) > 0 {
		return nil, errors.Join(all...)
	}
	return t, nil
}

// MustFindingTable is NewFindingTable for a package's own table; it panics on a
// mistake, which every test of that package then shows.
func MustFindingTable(kinds ...FindingKind) *FindingTable {
	t, err := NewFindingTable(kinds...)
	if err != nil {
		panic(err)
	}
	return t
}

// Codes lists the codes in the order of their declaration.
func (t *FindingTable) Codes() []FindingCode {
	all := make([]FindingCode, len(t.kinds))
	for i, k := range t.kinds {
		all[i] = k.Code
	}
	return all
}

// Find returns a finding of a declared code, its sentence filled with args; a code
// that is not declared is an error.
func (t *FindingTable) Find(code FindingCode, state State, args ...any) (Finding, error) {
	i, known := t.index[code]
	if !known {
		return Finding{}, fmt.Errorf("finding %q is not declared", code)
	}
	k := t.kinds[i]
	return Finding{
		Code: code, State: state, Text: fmt.Sprintf(k.Sentence, args...),
		Advice: k.Advice, HidesBehind: slices.Clone(k.HidesBehind),
	}, nil
}

// MustFind is Find for a package's own codes: one that is not declared is a mistake
// in that package, which no record can cause.
func (t *FindingTable) MustFind(code FindingCode, state State, args ...any) Finding {
	f, err := t.Find(code, state, args...)
	if err != nil {
		panic(err)
	}
	return f
}

// Shown returns the findings that no other of them explains, in their order.
func Shown(findings []Finding) []Finding {
	var shown []Finding
	for _, f := range findings {
		explained := slices.ContainsFunc(findings, func(other Finding) bool {
			return other.Code != f.Code && slices.Contains(f.HidesBehind, other.Code)
		})
		if !explained {
			shown = append(shown, f)
		}
	}
	return shown
}

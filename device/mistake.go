package device

import "fmt"

// PathError is something wrong in a piece of plain data. Path says where, as the
// data's file spells it: "asks[2].measure".
type PathError struct {
	Path string
	Err  error
}

// Error gives the path and what is wrong there.
func (e *PathError) Error() string { return e.Path + ": " + e.Err.Error() }

// Unwrap returns what is wrong, without the path.
func (e *PathError) Unwrap() error { return e.Err }

// KeyPath returns the path, so that whoever read the file can name the line.
func (e *PathError) KeyPath() string { return e.Path }

// NameError is a name that stands for nothing.
type NameError struct {
	Kind  string // what was to be named: "measure", "instrument"
	Name  string
	Known []string // the names that would have been right
}

// Error says which name stands for nothing.
func (e *NameError) Error() string { return fmt.Sprintf("no %s named %q", e.Kind, e.Name) }

// Candidates returns the wrong name and the right ones, so that the nearest can
// be offered.
func (e *NameError) Candidates() (name string, known []string) { return e.Name, e.Known }

package checks

import (
	"errors"
	"fmt"
)

// PathError is a mistake in a sheet and where it is: the path of the key as the
// sheet's file spells it, "test_points[2].checks[0].limit.low_v".
type PathError struct {
	Path string
	Err  error
}

// Error writes place and mistake.
func (e *PathError) Error() string { return e.Path + ": " + e.Err.Error() }

// Unwrap returns the mistake without its place.
func (e *PathError) Unwrap() error { return e.Err }

// mistakes gathers what is wrong, so that one run tells all of it.
type mistakes struct{ list []error }

func (m *mistakes) add(path, format string, args ...any) {
	m.list = append(m.list, &PathError{Path: path, Err: fmt.Errorf(format, args...)})
}

func (m *mistakes) err() error { return errors.Join(m.list...) }

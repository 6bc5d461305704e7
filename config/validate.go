package config

import (
	"errors"
	"regexp"
	"slices"
	"strconv"
	"strings"

	"soakline/checks"
	"soakline/device"
)

// located returns the key that an error of a domain's Validate names, and the
// error without it.
func located(err error) (path string, why error, ok bool) {
	if at, ok := errors.AsType[*checks.PathError](err); ok {
		return at.Path, at.Err, true
	}
	if at, ok := errors.AsType[*device.PathError](err); ok {
		return at.Path, at.Err, true
	}
	return "", err, false
}

// validate takes over what a domain's Validate found, with the line of each key;
// the keys are those under prefix ("" for the whole file).
// What was reported while reading is left out: a limit that could not be read is
// not besides a limit that is missing.
func (d *document) validate(prefix string, err error) {
	known := len(d.mistakes)
	for _, part := range parts(err) {
		path, why, ok := located(part)
		if !ok {
			d.mistakef(position{}, "", "%v", part)
			continue
		}
		path = d.written(under(prefix, path))
		if d.hushed[path] {
			continue
		}
		if slices.ContainsFunc(d.mistakes[:known], func(m *Mistake) bool { return sameBranch(m.Key, path) }) {
			continue
		}
		d.mistakef(d.place(path), path, "%v", why).suggest(why)
	}
}

// parts takes joined errors apart.
func parts(err error) []error {
	if err == nil {
		return nil
	}
	if many, ok := err.(interface{ Unwrap() []error }); ok {
		var all []error
		for _, e := range many.Unwrap() {
			all = append(all, parts(e)...)
		}
		return all
	}
	return []error{err}
}

// sameBranch tells whether one key lies above the other, or is the same.
func sameBranch(a, b string) bool {
	if a == "" || b == "" {
		return false
	}
	if len(a) > len(b) {
		a, b = b, a
	}
	rest, ok := strings.CutPrefix(b, a)
	return ok && (rest == "" || rest[0] == '.' || rest[0] == '[')
}

// fewNames is how many names a message may list when none is near.
const fewNames = 12

// suggest adds the nearest right name, or all of them where they are few.
func (m *Mistake) suggest(why error) {
	var wrong interface {
		Candidates() (name string, known []string)
	}
	if !errors.As(why, &wrong) {
		return
	}
	name, known := wrong.Candidates()
	if near := nearest(name, known); near != "" {
		m.Suggestion = strconv.Quote(near)
	} else if len(known) > 0 && len(known) <= fewNames {
		m.Sentence += "; known are " + strings.Join(known, ", ")
	}
}

var shortForm = regexp.MustCompile(`^(test_points\[\d+\])\.checks\[0\]`)

// written turns the path of a sheet's check into the one that the file has where
// the test point's only check is written in the short form. What is wrong with an
// aim stands at the key aim.
func (d *document) written(path string) string {
	if at, ok := strings.CutSuffix(path, ".nearest_nominal"); ok && strings.HasPrefix(path, "trial[") {
		return at + ".aim"
	}
	point := shortForm.FindStringSubmatch(path)
	if point == nil {
		return path
	}
	if _, long := d.places[point[1]+".checks"]; long {
		return path
	}
	return point[1] + path[len(point[0]):]
}

// place returns where a key stands, or the nearest key above it that is there.
func (d *document) place(path string) position {
	for path != "" {
		if at, ok := d.places[path]; ok {
			return at
		}
		path = path[:max(0, strings.LastIndexAny(path, ".["))]
	}
	return d.places[""]
}

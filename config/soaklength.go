package config

import "time"

// WithSoakOf returns the sheet with another length of soak, as a file that says so: a
// sheet of its own, with its own hash. Comments are lost on the way.
func (s LoadedSheet) WithSoakOf(length time.Duration) (LoadedSheet, error) {
	changed := s.Sheet
	changed.Soak.Duration = length
	text, err := FormatSheet(changed)
	if err != nil {
		return LoadedSheet{}, err
	}
	changed, err = ParseSheet(s.Name, text)
	return LoadedSheet{Sheet: changed, Source: text}, err
}

package config

import "soakline/checks"

// Changed returns the sheet with a change, as a file that says so: a sheet of its own,
// with its own hash. Comments are lost on the way. change may replace the sheet's parts,
// but not write into them: they are shared.
func (s LoadedSheet) Changed(change func(*checks.Sheet)) (LoadedSheet, error) {
	changed := s.Sheet
	change(&changed)
	text, err := FormatSheet(changed)
	if err != nil {
		return LoadedSheet{}, err
	}
	changed, err = ParseSheet(s.Name, text)
	return LoadedSheet{Sheet: changed, Source: text}, err
}

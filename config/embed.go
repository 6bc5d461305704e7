package config

import (
	"embed"
	"fmt"
	"path"
	"slices"
	"strings"

	"soakline/device"
)

//go:embed commandsets/*.yaml sheets/*.yaml demo/*.yaml
var shippedFiles embed.FS

// shelf is a folder of shipped files of one kind.
type shelf string

const (
	commandSetFiles shelf = "commandsets"
	sheetFiles      shelf = "sheets"
)

// names lists the shelf's files without their ending, sorted.
func (s shelf) names() []string {
	entries, err := shippedFiles.ReadDir(string(s))
	if err != nil {
		panic("a folder that was embedded is missing: " + err.Error()) // cannot be, short of a broken build
	}
	var all []string
	for _, e := range entries {
		all = append(all, strings.TrimSuffix(e.Name(), ".yaml"))
	}
	slices.Sort(all)
	return all
}

// text returns a shipped file byte for byte.
func (s shelf) text(name string) ([]byte, error) {
	return shippedFiles.ReadFile(path.Join(string(s), name+".yaml"))
}

// show is how a message names a shipped file.
func (s shelf) show(name string) string { return "shipped " + path.Join(string(s), name+".yaml") }

// CommandSetNames lists the shipped command sets.
func CommandSetNames() []string { return commandSetFiles.names() }

// SheetNames lists the shipped test sheets.
func SheetNames() []string { return sheetFiles.names() }

// Show returns the text of a shipped command set or test sheet, to begin one's own
// from. The error is a *device.NameError if there is none of that name.
func Show(name string) (string, error) {
	for _, s := range []shelf{commandSetFiles, sheetFiles} {
		if text, err := s.text(name); err == nil {
			return string(text), nil
		}
	}
	why := &device.NameError{Kind: "shipped command set or sheet", Name: name, Known: append(CommandSetNames(), SheetNames()...)}
	if near := nearest(name, why.Known); near != "" {
		return "", fmt.Errorf("%w; did you mean %q?", why, near)
	}
	return "", why
}

// ShippedCommandSet returns a shipped command set, for asking an instrument that
// no bench knows yet.
func ShippedCommandSet(name string) (device.CommandSet, error) {
	text, err := commandSetFiles.text(name)
	if err != nil {
		return device.CommandSet{}, &device.NameError{Kind: "shipped command set", Name: name, Known: CommandSetNames()}
	}
	return ParseCommandSet(commandSetFiles.show(name), text)
}

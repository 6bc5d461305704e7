package config

import (
	"fmt"

	"soakline/device"
)

// loadSheet reads the test sheet that stands in the bench's list of sheets.
func (l *loader) loadSheet(s *section, i int, ref string) LoadedSheet {
	key := fmt.Sprintf("sheets[%d]", i)
	text, file, ok := l.named(s, key, "sheet", ref, sheetFiles)
	if !ok {
		l.sheetUnread = true
		return LoadedSheet{}
	}
	d := parse(file, text)
	l.docs = append(l.docs, d)
	sheet := d.sheet(text)
	l.sheetUnread = l.sheetUnread || d.root == nil
	l.faulty = l.faulty || len(d.mistakes) > 0
	return LoadedSheet{Sheet: sheet, Source: text}
}

// commandSet reads the instrument's command set; a set that two instruments share
// is read, and its mistakes are reported, once.
func (l *loader) commandSet(s *section) device.CommandSet {
	const key = "command_set"
	ref := s.text(key, required)
	if ref == "" {
		l.faulty = true
		return device.CommandSet{Line: defaultLine()}
	}
	if set, ok := l.sets[ref]; ok {
		return set
	}
	set := device.CommandSet{Line: defaultLine()}
	if text, file, ok := l.named(s, key, "command set", ref, commandSetFiles); ok {
		d := parse(file, text)
		l.docs = append(l.docs, d)
		set = d.commandSet()
		l.faulty = l.faulty || len(d.mistakes) > 0
	}
	l.sets[ref] = set
	return set
}

// named returns the text of the file that ref means: one beside bench.yaml if it
// looks like a path, else one that came with the program.
func (l *loader) named(s *section, key, kind, ref string, shipped shelf) (text []byte, file string, ok bool) {
	if !namesFile(ref) {
		text, err := shipped.text(ref)
		if err != nil {
			l.faulty = true
			why := &device.NameError{Kind: "shipped " + kind, Name: ref, Known: shipped.names()}
			s.wrong(key, "%v", why).suggest(why)
			return nil, "", false
		}
		return text, shipped.show(ref), true
	}
	text, err := l.read(ref)
	if err != nil {
		l.faulty = true
		s.wrong(key, "%s cannot be read: %s", l.show(ref), unreadable(err)).cause = err
		return nil, "", false
	}
	return text, l.show(ref), true
}

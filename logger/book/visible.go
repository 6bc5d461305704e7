package book

import (
	"strings"

	"soakline/checks"
	"soakline/device"
)

// visible makes a name fit for a line of text: control characters become their
// pictures (Unicode block 2400), bytes that are no UTF-8 the replacement character,
// and a backslash at the end, which would escape what follows it, a full-width one.
func visible(name string) string {
	name = strings.Map(func(r rune) rune {
		switch {
		case r < 0x20:
			return 0x2400 + r
		case r == 0x7f:
			return '\u2421'
		}
		return r
	}, strings.ToValidUTF8(name, "\ufffd"))
	if rest, ok := strings.CutSuffix(name, `\`); ok {
		name = rest + "\uff3c"
	}
	return name
}

// visible is the tag with visible names.
func (t Tag) visible() Tag {
	return Tag{
		Bench: visible(t.Bench), Console: checks.ConsoleName(visible(string(t.Console))), Unit: checks.UnitID(visible(string(t.Unit))),
		TestPoint: checks.TestPointName(visible(string(t.TestPoint))), Instrument: visible(t.Instrument),
		Measure: device.Measure(visible(string(t.Measure))),
	}
}

package config

import (
	"testing"
)

func TestShippedFilesAreWithoutMistakes(t *testing.T) {
	for _, name := range CommandSetNames() {
		if set, err := ShippedCommandSet(name); err != nil || set.Name != name {
			t.Errorf("command set %s: name %q: %v", name, set.Name, err)
		}
	}
	for _, name := range SheetNames() {
		text, err := Show(name)
		if err != nil {
			t.Fatal(err)
		}
		sheet, err := ParseSheet(name, []byte(text))
		if err != nil || sheet.Name != name {
			t.Errorf("sheet %s: name %q: %v", name, sheet.Name, err)
		}
	}
	if _, err := LoadDemo(map[string]string{"meter": "/tmp/m", "scope": "s", "talker": "t", "supply": "p"}, t.TempDir()); err != nil {
		t.Errorf("demo: %v", err)
	}
}

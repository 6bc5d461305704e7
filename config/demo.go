package config

import (
	"fmt"
	"maps"
	"path/filepath"
	"slices"
	"strings"
)

// demoPort begins the port of an instrument that the demo simulates.
const demoPort = "demo:"

// LoadDemo returns the simulated bench. Its instruments' ports are "demo:meter"
// and so on in the file; ports says where each is open ("meter" to a path or an
// address). The book lies in dir. Neither flags nor the environment count.
func LoadDemo(ports map[string]string, dir string) (Bench, error) {
	const file = "bench.yaml"
	l := newLoader(inside(shippedFiles, "demo"), nil)
	text, err := l.read(file)
	if err != nil {
		return Bench{}, fmt.Errorf("reading the demo's bench: %w", err)
	}
	b, err := l.load(l.show(file), text, nil)
	if err != nil {
		return Bench{}, err
	}
	b.Book = filepath.Join(dir, filepath.Base(b.Book))
	for i := range b.Instruments {
		in := &b.Instruments[i]
		name := strings.TrimPrefix(in.Port, demoPort)
		port, ok := ports[name]
		if !ok {
			return Bench{}, fmt.Errorf("the demo's bench has an instrument %q at %s, but ports are open for %s only",
				in.Name, in.Port, strings.Join(slices.Sorted(maps.Keys(ports)), ", "))
		}
		in.Port = port
	}
	return b, nil
}

// DemoFile returns the text of one of the demo's files ("bench.yaml"), to begin
// one's own from.
func DemoFile(name string) ([]byte, error) {
	text, err := inside(shippedFiles, "demo").read(name)
	if err != nil {
		return nil, fmt.Errorf("reading the demo's %s: %w", name, err)
	}
	return text, nil
}

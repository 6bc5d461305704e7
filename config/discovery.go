package config

import (
	"net"
	"path/filepath"
)

// Discovery is how a Prometheus finds the bench: a file that the daemon writes while
// it runs, of the form that file_sd_configs reads.
type Discovery struct {
	// File is the file's path; empty writes none.
	File string
	// Address is the host and port to scrape; empty is where the daemon listens.
	Address string
}

// discovery reads it; the file lies relative to bench.yaml.
func (l *loader) discovery(s *section) Discovery {
	at := s.sub("discovery", optional)
	if at == nil {
		return Discovery{}
	}
	d := Discovery{File: at.text("file", required), Address: at.text("address", optional)}
	at.done()
	if d.File != "" {
		d.File = filepath.Clean(l.show(d.File))
		if ext := filepath.Ext(d.File); ext != ".json" {
			at.wrong("file", "its name must end in .json, or Prometheus does not read it")
		}
	}
	if _, port, err := net.SplitHostPort(d.Address); d.Address != "" && (err != nil || port == "") {
		at.wrong("address", "%q is not an address with a port, as in bench-3.example:8725", d.Address)
	}
	return d
}

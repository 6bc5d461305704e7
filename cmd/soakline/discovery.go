package main

import (
	"encoding/json"
	"errors"
	"fmt"
	"net"
	"os"
	"path/filepath"

	"soakline/config"
)

// scrapeTarget is one entry of a file that file_sd_configs of Prometheus reads.
type scrapeTarget struct {
	Targets []string          `json:"targets"`
	Labels  map[string]string `json:"labels"`
}

// postDiscovery writes where the bench is to be scraped; the returned function takes
// the file away, which is right where the bench is stopped and not where it dies: a
// bench that should be there has to be missed.
func postDiscovery(d config.Discovery, bench, listens string) (takeDown func() error, err error) {
	if d.File == "" {
		return func() error { return nil }, nil
	}
	address := d.Address
	if address == "" {
		if address, err = reachable(listens); err != nil {
			return nil, fmt.Errorf("say in %s where the bench is: %w", d.File, err)
		}
	}
	// The readings have a label bench of their own.
	text, err := json.Marshal([]scrapeTarget{{Targets: []string{address}, Labels: map[string]string{"bench_name": bench}}})
	if err != nil {
		return nil, err
	}
	if err := os.MkdirAll(filepath.Dir(d.File), 0o755); err != nil {
		return nil, fmt.Errorf("say in %s where the bench is: %w", d.File, err)
	}
	// Prometheus runs as another user, who has to read it.
	if err := errors.Join(os.WriteFile(d.File+".new", text, 0o644), os.Rename(d.File+".new", d.File)); err != nil {
		return nil, fmt.Errorf("say where the bench is: %w", err)
	}
	return func() error {
		if err := os.Remove(d.File); err != nil && !errors.Is(err, os.ErrNotExist) {
			return err
		}
		return nil
	}, nil
}

// reachable is an address under which others reach what listens: this machine's name
// where it listens on all addresses.
func reachable(listens string) (string, error) {
	host, port, err := net.SplitHostPort(listens)
	if err != nil {
		return "", err
	}
	if ip := net.ParseIP(host); host != "" && (ip == nil || !ip.IsUnspecified()) {
		return listens, nil
	}
	name, err := os.Hostname()
	return net.JoinHostPort(name, port), err
}

package config

import (
	"embed"
	"encoding/json"
	"errors"
	"fmt"
	"io/fs"
	"os"
	"path/filepath"
	"strings"
)

//go:embed graphing
var graphingFiles embed.FS

// ErrDiffers is in the error of a file that is there already with another content.
var ErrDiffers = errors.New("a file of that name is there already and says something else")

// WriteGraphing writes the shipped files for graphing into a folder: what Prometheus
// is to scrape, rules and alerts, and the graph server's data sources and dashboards.
// Files that are there already are kept if they say the same, else refused, unless
// they are to be replaced. It returns what it has written.
func WriteGraphing(dir string, replace bool) ([]string, error) {
	var written []string
	err := fs.WalkDir(graphingFiles, "graphing", func(path string, entry fs.DirEntry, err error) error {
		if err != nil || entry.IsDir() {
			return err
		}
		text, err := graphingFiles.ReadFile(path)
		if err != nil {
			return err
		}
		to := filepath.Join(dir, filepath.FromSlash(strings.TrimPrefix(path, "graphing/")))
		if there, err := os.ReadFile(to); err == nil && !replace {
			if string(there) != string(text) {
				return fmt.Errorf("%s: %w", to, ErrDiffers)
			}
			return nil
		}
		if err := os.MkdirAll(filepath.Dir(to), 0o755); err != nil {
			return err
		}
		written = append(written, to)
		return os.WriteFile(to, text, 0o644)
	})
	return written, err
}

// GraphQuery is one question that a dashboard asks of Prometheus.
type GraphQuery struct {
	Dashboard, Panel string
	// Expr has the dashboard's variables in it, such as $unit.
	Expr string
}

// GraphQueries lists all questions of the shipped dashboards.
func GraphQueries() ([]GraphQuery, error) {
	paths, err := fs.Glob(graphingFiles, "graphing/grafana/dashboards/*.json")
	if err != nil {
		return nil, err
	}
	var all []GraphQuery
	for _, path := range paths {
		text, err := graphingFiles.ReadFile(path)
		if err != nil {
			return nil, err
		}
		var dashboard struct {
			Title  string
			Panels []struct {
				Title   string
				Targets []struct{ Expr string }
			}
		}
		if err := json.Unmarshal(text, &dashboard); err != nil {
			return nil, fmt.Errorf("shipped %s: %w", path, err)
		}
		for _, panel := range dashboard.Panels {
			for _, target := range panel.Targets {
				all = append(all, GraphQuery{Dashboard: dashboard.Title, Panel: panel.Title, Expr: target.Expr})
			}
		}
	}
	return all, nil
}

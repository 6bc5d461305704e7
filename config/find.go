package config

import (
	"errors"
	"fmt"
	"io/fs"
	"os"
	"path/filepath"
	"strings"

	"github.com/spf13/pflag"
	"github.com/spf13/viper"
)

// envPrefix begins the names of all variables that are looked at.
const envPrefix = "SOAKLINE"

// ErrNoBench means that no bench.yaml was named and none was found.
var ErrNoBench = errors.New("no bench.yaml found")

// FindBench returns the path of the bench's file: the one given if there is one,
// else the one that SOAKLINE_BENCH names, else the first that is there of
// ./bench.yaml, $XDG_CONFIG_HOME/soakline/bench.yaml (~/.config where the variable
// is not set) and /etc/soakline/bench.yaml. The error is ErrNoBench, with the
// places looked at, if there is none.
func FindBench(given string) (string, error) {
	if given != "" {
		return given, nil
	}
	v := viper.New()
	v.SetEnvPrefix(envPrefix)
	v.MustBindEnv("bench")
	if named := v.GetString("bench"); named != "" {
		return named, nil
	}
	places := benchPlaces()
	for _, path := range places {
		if _, err := os.Stat(path); err == nil {
			return path, nil
		} else if !errors.Is(err, fs.ErrNotExist) {
			return "", fmt.Errorf("looking for bench.yaml: %w", err)
		}
	}
	return "", fmt.Errorf("%w; looked for %s: name one with --bench or %s_BENCH", ErrNoBench, strings.Join(places, ", "), envPrefix)
}

// benchPlaces lists where a bench's file may lie, the nearest first.
func benchPlaces() []string {
	const name = "bench.yaml"
	places := []string{name}
	config := os.Getenv("XDG_CONFIG_HOME")
	if home, err := os.UserHomeDir(); config == "" && err == nil {
		config = filepath.Join(home, ".config")
	}
	if filepath.IsAbs(config) { // the XDG base directory specification ignores relative ones
		places = append(places, filepath.Join(config, "soakline", name))
	}
	return append(places, filepath.Join("/etc", "soakline", name))
}

// overridable are the settings that a flag or the environment may set instead of
// the file: scalars that belong to the machine rather than to the bench.
var overridable = []string{"listen", "book", "token", "commit_every"}

// settled joins flags, environment and the file's own values, the first winning.
// The file's are given because viper is not let near the file: it folds the case
// of keys and knows no lines.
func settled(file map[string]any, open []string, flags *pflag.FlagSet) (*viper.Viper, error) {
	v := viper.New()
	v.SetEnvPrefix(envPrefix)
	if err := v.MergeConfigMap(file); err != nil {
		return nil, fmt.Errorf("taking over the bench's own settings: %w", err)
	}
	for _, key := range open {
		v.MustBindEnv(key)
		if flags == nil {
			continue
		}
		if flag := flags.Lookup(flagName(key)); flag != nil {
			if err := v.BindPFlag(key, flag); err != nil {
				return nil, fmt.Errorf("taking over --%s: %w", flag.Name, err)
			}
		}
	}
	return v, nil
}

// origin says where a setting comes from if not from the file: the flag's or the
// variable's name.
func origin(key string, flags *pflag.FlagSet) string {
	if flags != nil && flags.Changed(flagName(key)) {
		return "--" + flagName(key)
	}
	if os.Getenv(envName(key)) != "" {
		return envName(key)
	}
	return ""
}

// flagName is a setting as flags spell it: commit-every.
func flagName(key string) string { return strings.ReplaceAll(key, "_", "-") }

// envName is a setting as the environment spells it: SOAKLINE_COMMIT_EVERY.
func envName(key string) string { return envPrefix + "_" + strings.ToUpper(key) }

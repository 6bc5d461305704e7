// Package config turns files into settings: bench.yaml, test sheets and command
// sets, those that lie beside bench.yaml as well as those that are shipped. It
// alone knows YAML and the environment.
//
// Files are read strictly. Every mistake of every file is reported in one run,
// with file, line, key and the nearest right spelling. The unit is part of the
// key (low_v, rate_hz), a duration carries its unit in the value (500ms), and
// what has a name stands in a list, never as a key.
package config

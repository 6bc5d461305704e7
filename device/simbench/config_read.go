package simbench

import (
	"encoding/json"
	"errors"
	"fmt"
	"io"
)

// ReadConfig decodes one Config from JSON and validates it. Unknown keys, a
// second value and anything Validate refuses are errors.
func ReadConfig(r io.Reader) (Config, error) {
	var c Config
	decoder := json.NewDecoder(r)
	decoder.DisallowUnknownFields()
	if err := decoder.Decode(&c); err != nil {
		return Config{}, fmt.Errorf("simulated bench: %w", err)
	}
	if _, err := decoder.Token(); !errors.Is(err, io.EOF) {
		return Config{}, errors.New("simulated bench: more follows after the configuration")
	}
	if err := c.Validate(); err != nil {
		return Config{}, err
	}
	return c, nil
}

package scpi

import (
	"errors"
	"fmt"
	"strings"
)

// Identity is who an instrument says it is (*IDN?; IEEE 488.2, 10.14; S-02).
type Identity struct {
	Maker, Model string
	// Serial and Firmware are empty where the instrument answers "0", which
	// means not available, or leaves them out.
	Serial, Firmware string
	// Text is the answer as it came.
	Text string
}

// ErrNotIdentity says that an answer does not tell who an instrument is.
var ErrNotIdentity = errors.New("not an identification")

// ParseIdentity reads the answer to *IDN?: maker, model, serial number and
// firmware. Instruments that leave out the last ones, or put commas into the
// firmware, are understood. A list of numbers, an error queue entry or the echo of
// the question is refused with ErrNotIdentity.
func ParseIdentity(text string) (Identity, error) {
	fields := strings.SplitN(text, ",", 4)
	for i := range fields {
		fields[i] = strings.Trim(fields[i], " \t\"")
	}
	if len(fields) < 2 || fields[0] == "" || fields[1] == "" {
		return Identity{}, fmt.Errorf("%q: maker or model missing: %w", text, ErrNotIdentity)
	}
	if _, err := ParseNumber(fields[0]); err == nil {
		return Identity{}, fmt.Errorf("%q: begins with a number: %w", text, ErrNotIdentity)
	}
	if strings.HasPrefix(fields[0], "*") || strings.HasSuffix(text, "?") {
		return Identity{}, fmt.Errorf("%q: a question, not an answer: %w", text, ErrNotIdentity)
	}
	fields = append(fields, "", "")
	return Identity{
		Maker: fields[0], Model: fields[1],
		Serial: available(fields[2]), Firmware: available(fields[3]),
		Text: text,
	}, nil
}

// available is a field of an identity, empty for "0".
func available(field string) string {
	if field == "0" {
		return ""
	}
	return field
}

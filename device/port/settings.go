package port

import (
	"errors"
	"fmt"
	"slices"

	"go.bug.st/serial"
)

// Settings is how a serial line is set. A serial server sets its own line, so
// none of it applies to a tcp:// address.
type Settings struct {
	Baud     int    // bits per second, 50 to 12000000
	DataBits int    // 5 to 8
	Parity   string // "none", "odd", "even", "mark", "space"
	StopBits string // "1", "1.5", "2"
	Flow     string // "none", "rts-cts"
}

// The slowest rate that termios names, and the fastest that a high-speed USB
// adapter takes (common practice, no source).
const (
	lowestBaud  = 50
	highestBaud = 12_000_000
)

var parities = map[string]serial.Parity{
	"none":  serial.NoParity,
	"odd":   serial.OddParity,
	"even":  serial.EvenParity,
	"mark":  serial.MarkParity,
	"space": serial.SpaceParity,
}

var stopBits = map[string]serial.StopBits{
	"1":   serial.OneStopBit,
	"1.5": serial.OnePointFiveStopBits,
	"2":   serial.TwoStopBits,
}

// Validate says everything that is wrong, one error per key, joined. It is
// needed because drivers accept nearly any mode without a word.
func (s Settings) Validate() error {
	var wrong []error
	if s.Baud < lowestBaud || s.Baud > highestBaud {
		wrong = append(wrong, fmt.Errorf("baud: %d is not between %d and %d bits per second", s.Baud, lowestBaud, highestBaud))
	}
	if s.DataBits < 5 || s.DataBits > 8 {
		wrong = append(wrong, fmt.Errorf("data_bits: %d is not 5, 6, 7 or 8", s.DataBits))
	}
	if _, ok := parities[s.Parity]; !ok {
		wrong = append(wrong, fmt.Errorf("parity: %q is not none, odd, even, mark or space", s.Parity))
	}
	if _, ok := stopBits[s.StopBits]; !ok {
		wrong = append(wrong, fmt.Errorf(`stop_bits: %q is not "1", "1.5" or "2"`, s.StopBits))
	}
	if !slices.Contains([]string{"none", "rts-cts"}, s.Flow) {
		wrong = append(wrong, fmt.Errorf("flow: %q is not none or rts-cts", s.Flow))
	}
	return errors.Join(wrong...)
}

// String gives the settings as they are usually written: "115200 8N1", with
// "rts-cts" behind where the line is throttled.
func (s Settings) String() string {
	parity := "?"
	if _, ok := parities[s.Parity]; ok {
		parity = string(s.Parity[0] - 'a' + 'A')
	}
	text := fmt.Sprintf("%d %d%s%s", s.Baud, s.DataBits, parity, s.StopBits)
	if s.Flow == "rts-cts" {
		text += " rts-cts"
	}
	return text
}

// mode translates settings that Validate has passed.
func (s Settings) mode() *serial.Mode {
	return &serial.Mode{
		BaudRate: s.Baud,
		DataBits: s.DataBits,
		Parity:   parities[s.Parity],
		StopBits: stopBits[s.StopBits],
	}
}

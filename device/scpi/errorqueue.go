package scpi

import (
	"errors"
	"fmt"
	"strconv"
	"strings"
)

// longestQueue is how many entries of an error queue are believed. Queues hold
// some tens (common practice, no source).
const longestQueue = 256

// InstrumentError is one entry of an instrument's error queue (SYSTem:ERRor?;
// SCPI-1999, vol. 2, 21.8). It is an error.
type InstrumentError struct {
	// Code is 0 for "no error", negative for the standard's codes, positive for
	// the maker's own.
	Code int
	// Text is what the instrument says, without the detail; it may be empty for
	// a maker's code.
	Text string
	// Detail is what stands behind the first semicolon of the text.
	Detail string
}

// Error gives the code and its text, or the standard's where the instrument sent
// none.
func (e InstrumentError) Error() string {
	text := e.Text
	if text == "" {
		text = StandardText(e.Code)
	}
	if text == "" {
		text = "maker's own code without text"
	}
	if e.Detail != "" {
		text += "; " + e.Detail
	}
	return fmt.Sprintf("instrument error %d: %s", e.Code, text)
}

// ErrorClass sorts error codes by their range.
type ErrorClass string

// The classes of errors (SCPI-1999, vol. 2, 21.8).
const (
	NoError           ErrorClass = "no error"
	CommandError      ErrorClass = "command"            // -100 to -199
	ExecutionError    ErrorClass = "execution"          // -200 to -299
	DeviceError       ErrorClass = "device"             // -300 to -399, and above 0
	QueryError        ErrorClass = "query"              // -400 to -499
	PowerOn           ErrorClass = "power on"           // -500 to -599
	UserRequest       ErrorClass = "user request"       // -600 to -699
	RequestControl    ErrorClass = "request control"    // -700 to -799
	OperationComplete ErrorClass = "operation complete" // -800 to -899
	UnknownError      ErrorClass = "unknown"            // -1 to -99, below -899
)

// negativeClasses are the classes by the hundreds of a negative code.
var negativeClasses = map[int]ErrorClass{
	1: CommandError, 2: ExecutionError, 3: DeviceError, 4: QueryError,
	5: PowerOn, 6: UserRequest, 7: RequestControl, 8: OperationComplete,
}

// Class is the class of the error's code.
func (e InstrumentError) Class() ErrorClass {
	switch {
	case e.Code == 0:
		return NoError
	case e.Code > 0:
		return DeviceError
	}
	if class, ok := negativeClasses[-e.Code/100]; ok {
		return class
	}
	return UnknownError
}

// LineTrouble tells whether the error points at the serial line rather than at a
// command: parity, framing (a wrong speed) or pacing (S-78).
func (e InstrumentError) LineTrouble() bool { return e.Code <= -360 && e.Code >= -363 }

// ErrNotInstrumentError says that an answer is no entry of an error queue.
var ErrNotInstrumentError = errors.New("not an error queue entry")

// ParseInstrumentError reads an answer to SYSTem:ERRor?: a code, and a text in
// quotes with an optional detail behind a semicolon. A text without quotes is
// understood, and so is a bare 0. It fails with ErrNotInstrumentError.
func ParseInstrumentError(answer string) (InstrumentError, error) {
	codeText, text, hasText := strings.Cut(answer, ",")
	code, err := strconv.ParseInt(strings.Trim(codeText, " \t"), 10, 16)
	if err != nil {
		return InstrumentError{}, fmt.Errorf("%q: code: %w", answer, ErrNotInstrumentError)
	}
	if !hasText && code != 0 {
		return InstrumentError{}, fmt.Errorf("%q: no text: %w", answer, ErrNotInstrumentError)
	}
	text = strings.Trim(text, " \t")
	if strings.HasPrefix(text, `"`) || strings.HasPrefix(text, "'") {
		s := splitter{text: text}
		unquoted, err := s.quoted(text[0])
		if err != nil || s.at != len(text) {
			return InstrumentError{}, fmt.Errorf("%q: quotes: %w", answer, ErrNotInstrumentError)
		}
		text = unquoted
	}
	text, detail, _ := strings.Cut(text, ";")
	return InstrumentError{Code: int(code), Text: strings.TrimSpace(text), Detail: strings.TrimSpace(detail)}, nil
}

// StandardText is the standard's text for a code; empty where it has none.
func StandardText(code int) string { return standardTexts[code] }

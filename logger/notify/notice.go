package notify

import (
	"crypto/sha256"
	"encoding/hex"
	"fmt"
	"time"

	"soakline/checks"
	"soakline/device"
	"soakline/logger/book"
)

// Kind sorts what people are told of.
type Kind string

// The kinds of notice.
const (
	Excursion    Kind = "excursion"
	Silence      Kind = "silence"
	Verdict      Kind = "verdict"
	StoredCharge Kind = "stored-charge"
	DiskLow      Kind = "disk-low"
	Trial        Kind = "trial" // sent by hand to see whether it arrives
)

// Kinds are those that a target can be told of.
func Kinds() []Kind { return []Kind{Excursion, Silence, Verdict, StoredCharge, DiskLow} }

// Stage is where in its course something is when it is told.
type Stage string

// The stages. A verdict only begins.
const (
	Began Stage = "began"
	Still Stage = "still"
	Over  Stage = "over"
)

// Notice is one thing that people are told.
type Notice struct {
	// ID is the same for all notices of one event, so that a receiver that gets one
	// twice can tell.
	ID    string    `json:"id"`
	Kind  Kind      `json:"kind"`
	Stage Stage     `json:"stage"`
	At    time.Time `json:"at"`
	// Since is when the event began.
	Since      time.Time            `json:"since"`
	Bench      string               `json:"bench"`
	Unit       checks.UnitID        `json:"unit,omitempty"`
	Console    checks.ConsoleName   `json:"console,omitempty"`
	Soak       book.SoakID          `json:"soak,omitempty"`
	TestPoint  checks.TestPointName `json:"test_point,omitempty"`
	Measure    device.Measure       `json:"measure,omitempty"`
	Verdict    checks.Outcome       `json:"verdict,omitempty"`
	Instrument string               `json:"instrument,omitempty"`
	// Text says it to a colleague: what happened, how sure, what to do.
	Text string `json:"text"`
}

// named gives the notice the identity of its event.
func (n Notice) named() Notice {
	sum := sha256.Sum256(fmt.Appendf(nil, "%s\x00%s\x00%s\x00%d\x00%s\x00%s\x00%d", n.Bench, n.Kind, n.Unit, n.Soak, n.TestPoint, n.Measure, n.Since.UnixMicro()))
	n.ID = hex.EncodeToString(sum[:8])
	return n
}

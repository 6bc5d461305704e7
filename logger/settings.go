package logger

import (
	"time"

	"soakline/checks"
	"soakline/device"
)

// Settings is one bench: its instruments, its places and where its book lies. It
// is plain data; config fills it from bench.yaml and Validate says what is wrong.
type Settings struct {
	// Bench names the bench on every reading.
	Bench string
	// Book is the path of the book; CommitEvery is the longest that a reading
	// waits before it is on the disk.
	Book        string
	CommitEvery time.Duration
	// TimeStep is what times are rounded down to in the book, from 1 us to 1 s; 0 is
	// 1 us. ThinAfter is how long after its end a soak is thinned; 0 is never.
	TimeStep, ThinAfter time.Duration
	// Waiting is how many readings may wait in memory while the book cannot be
	// written, from 1,000 to 10,000,000; 0 is 65,536.
	Waiting int
	// Listen is the address of the daemon's page and metrics; Token must be set
	// when it is not loopback.
	Listen, Token string
	Instruments   []InstrumentSettings
	Places        []Place
	Sheets        []checks.Sheet
}

// InstrumentSettings is one instrument on the bench.
type InstrumentSettings struct {
	Name string
	// Port says where it is: a path ("/dev/ttyUSB0", "COM3"), "tcp://host:port",
	// "usb:VID:PID" or "usb:VID:PID:SERIAL", or "idn:TEXT" for whichever port's
	// *IDN? answer contains TEXT.
	Port     string
	Commands device.CommandSet
	// Calibrated and CalibrationDue are days, at midnight UTC; zero where nobody gave
	// them.
	Calibrated, CalibrationDue time.Time
}

// Place is a position on the bench that one unit can take: which instrument and
// channel each test point is wired to.
type Place struct {
	Name        string
	Connections []Connection
}

// Connection wires one test point to one instrument.
type Connection struct {
	TestPoint  checks.TestPointName
	Instrument string
	// Channel is the instrument's own name for the input; empty where it has one.
	Channel string
}

// Package port keeps serial lines: it finds a port by its path, by the identity
// of its USB adapter or by the address of a serial server, opens it for this
// program alone, and moves bytes under the caller's context. It knows no
// instrument and no reading.
//
// go.bug.st/serial sets the line (speed, frame, modem lines) on every system.
// Where the system can wait for a terminal with a deadline (Linux, and macOS
// where kqueue takes the device), a descriptor of our own carries the bytes and
// the library's is closed again as soon as the line is set. That descriptor
// closes on exec, may have any number, is never used after Close, and neither a
// Read nor a Write on it can block beyond its context. Elsewhere the library
// carries the bytes too, and slicedLine puts the deadlines on top.
//
// A port that was lost stays lost: whoever keeps it closes it at once (a held
// descriptor makes the adapter come back under another name) and opens its
// address again until that works. Error.Transient says whether trying again can
// help by itself.
package port

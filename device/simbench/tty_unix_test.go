//go:build unix

package simbench

import "syscall"

// noControllingTerminal keeps a port that a test opens from becoming the test's
// terminal.
const noControllingTerminal = syscall.O_NOCTTY

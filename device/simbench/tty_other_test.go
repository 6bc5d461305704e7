//go:build !unix

package simbench

// noControllingTerminal means nothing here.
const noControllingTerminal = 0

//go:build unix

package main

import (
	"os/exec"
	"syscall"
)

// detach gives a child a process group of its own, so that the terminal's Ctrl-C
// does not reach it.
func detach(child *exec.Cmd) { child.SysProcAttr = &syscall.SysProcAttr{Setpgid: true} }

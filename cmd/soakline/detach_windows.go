package main

import (
	"os/exec"
	"syscall"
)

// detach gives a child a process group of its own, so that the console's Ctrl-C
// does not reach it.
func detach(child *exec.Cmd) {
	child.SysProcAttr = &syscall.SysProcAttr{CreationFlags: syscall.CREATE_NEW_PROCESS_GROUP}
}

//go:build !linux

package pgserver

import "syscall"

// boundToParent cannot bind a process to its parent here: a program that is killed leaves the server running.
func boundToParent() *syscall.SysProcAttr { return &syscall.SysProcAttr{} }

//go:build !linux

package modelstest

import "syscall"

// boundToParent cannot bind a process to its parent here: tests that are killed leave the server running.
func boundToParent() *syscall.SysProcAttr { return &syscall.SysProcAttr{} }

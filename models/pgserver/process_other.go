//go:build !linux

package pgserver

import (
	"errors"
	"syscall"
)

// boundToParent cannot bind a process to its parent here: a program that is killed leaves the server running.
func boundToParent() *syscall.SysProcAttr { return &syscall.SysProcAttr{} }

func childrenOf(int) ([]int, error) {
	return nil, errors.New("the processes of a server can be told on Linux alone")
}

package modelstest

import "syscall"

// boundToParent makes a process end with the tests, also where they are killed.
func boundToParent() *syscall.SysProcAttr {
	return &syscall.SysProcAttr{Pdeathsig: syscall.SIGINT}
}

package pgserver

import "syscall"

// boundToParent makes a process end with the program, also where they are killed.
func boundToParent() *syscall.SysProcAttr {
	return &syscall.SysProcAttr{Pdeathsig: syscall.SIGINT}
}

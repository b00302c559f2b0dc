package pgserver

import (
	"fmt"
	"os"
	"path/filepath"
	"strconv"
	"strings"
	"syscall"
)

// boundToParent makes a process end with the program, also where they are killed.
func boundToParent() *syscall.SysProcAttr {
	return &syscall.SysProcAttr{Pdeathsig: syscall.SIGINT}
}

// childrenOf are the processes that a process has started and that have not ended.
func childrenOf(parent int) (children []int, err error) {
	all, err := filepath.Glob("/proc/[0-9]*/stat")
	if err != nil {
		return nil, err
	}
	for _, file := range all {
		text, err := os.ReadFile(file)
		if err != nil {
			continue // it has ended meanwhile
		}
		// pid (name) state parent …; a name may hold anything, so the fields behind it are counted.
		_, rest, _ := strings.Cut(string(text[strings.LastIndexByte(string(text), ')')+1:]), " ")
		fields := strings.Fields(rest)
		if len(fields) < 2 || fields[1] != strconv.Itoa(parent) {
			continue
		}
		pid, err := strconv.Atoi(filepath.Base(filepath.Dir(file)))
		if err != nil {
			return nil, fmt.Errorf("read %s: %w", file, err)
		}
		children = append(children, pid)
	}
	return children, nil
}

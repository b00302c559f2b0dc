package main

import (
	"bytes"
	"fmt"
	"os"
	"path/filepath"
	"strconv"
	"strings"
	"time"
)

// resident is the memory of a process and its children in bytes (proc(5): status, PPid and VmRSS). A child that has not yet
// become the program that it is started for has its parent's memory (clone(2): CLONE_VM with CLONE_VFORK), and its command
// line with it: it is not counted a second time.
func resident(pid int) (int64, error) {
	own, _, err := statusOf(pid)
	if err != nil {
		return 0, err
	}
	command, err := os.ReadFile(fmt.Sprintf("/proc/%d/cmdline", pid))
	if err != nil {
		return 0, err
	}
	others, err := filepath.Glob("/proc/[0-9]*")
	if err != nil {
		return 0, err
	}
	for _, name := range others {
		other, err := strconv.Atoi(filepath.Base(name))
		if err != nil {
			return 0, err
		}
		of, err := os.ReadFile(filepath.Join(name, "cmdline")) // first: from now on its memory is its own
		if err != nil || bytes.Equal(of, command) {
			continue // others end in between
		}
		if size, parent, err := statusOf(other); err == nil && parent == pid {
			own += size
		}
	}
	return own, nil
}

func statusOf(pid int) (size int64, parent int, err error) {
	text, err := os.ReadFile(fmt.Sprintf("/proc/%d/status", pid))
	if err != nil {
		return 0, 0, err
	}
	for line := range strings.Lines(string(text)) {
		name, value, _ := strings.Cut(line, ":")
		words := strings.Fields(value)
		switch {
		case len(words) == 0:
		case name == "PPid":
			parent, err = strconv.Atoi(words[0])
		case name == "VmRSS":
			size, err = strconv.ParseInt(words[0], 10, 64)
		}
		if err != nil {
			return 0, 0, fmt.Errorf("/proc/%d/status: %w", pid, err)
		}
	}
	return size << 10, parent, nil
}

// peakWhile is how far the memory of a process and its children rises above what it is at first, while something is done.
func peakWhile(pid int, do func() error) (int64, error) {
	idle, err := resident(pid)
	if err != nil {
		return 0, err
	}
	done, peak := make(chan error, 1), idle
	go func() { done <- do() }()
	for tick := time.Tick(4 * time.Millisecond); ; {
		select {
		case err := <-done:
			return peak - idle, err
		case <-tick:
			now, err := resident(pid)
			if err != nil {
				return 0, fmt.Errorf("the server has ended: %w", err)
			}
			peak = max(peak, now)
		}
	}
}

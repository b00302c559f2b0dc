package main

import (
	"os"
	"strconv"
	"strings"
	"time"

	"golang.org/x/sys/unix"
)

// threadTime is the time of the processor that this thread has taken.
func threadTime() time.Duration {
	var u unix.Rusage
	if unix.Getrusage(unix.RUSAGE_THREAD, &u) != nil {
		return 0
	}
	return time.Duration(u.Utime.Nano() + u.Stime.Nano())
}

// processTime is the time of the processor that this process has taken.
func processTime() time.Duration {
	var u unix.Rusage
	if unix.Getrusage(unix.RUSAGE_SELF, &u) != nil {
		return 0
	}
	return time.Duration(u.Utime.Nano() + u.Stime.Nano())
}

// forgetPeak lets peakBytes begin anew; where the kernel does not, the peak is that of the whole process (proc(5), clear_refs).
func forgetPeak() { _ = os.WriteFile("/proc/self/clear_refs", []byte("5"), 0) }

// peakBytes is the most memory that the process has had in use, as the kernel counts it (VmHWM).
func peakBytes() int64 {
	status, err := os.ReadFile("/proc/self/status")
	if err != nil {
		return 0
	}
	_, rest, _ := strings.Cut(string(status), "VmHWM:")
	kib, _, _ := strings.Cut(strings.TrimSpace(rest), " ")
	n, err := strconv.ParseInt(kib, 10, 64)
	if err != nil {
		return 0
	}
	return n << 10
}

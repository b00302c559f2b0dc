//go:build !linux

package main

import (
	"runtime"
	"time"
)

var started = time.Now()

// threadTime is the time that has gone by: that of a thread is known on Linux alone.
func threadTime() time.Duration { return time.Since(started) }

// processTime is the time that has gone by.
func processTime() time.Duration { return time.Since(started) }

func forgetPeak() {}

// peakBytes is the memory that Go has taken from the system.
func peakBytes() int64 {
	var m runtime.MemStats
	runtime.ReadMemStats(&m)
	return int64(m.Sys)
}

//go:build linux || darwin

package apart

import (
	"fmt"
	"syscall"
)

// lowPriority is a niceness, of at most 19.
const lowPriority = 15

// confine sets limits that the process cannot lift again: memory in bytes, time on the processor, size of a file, and no file
// of its memory when it ends by a fault. Under the race detector memory has no limit.
func confine(memory int64, low bool) error {
	limits := map[int]int64{syscall.RLIMIT_DATA: memory, syscall.RLIMIT_CPU: cpuSeconds, syscall.RLIMIT_FSIZE: largestFile, syscall.RLIMIT_CORE: 0}
	if shadow {
		delete(limits, syscall.RLIMIT_DATA)
	}
	for resource, most := range limits {
		var limit syscall.Rlimit
		limit.Cur, limit.Max = uint64(most), uint64(most)
		if err := syscall.Setrlimit(resource, &limit); err != nil {
			return fmt.Errorf("limit %d: %w", resource, err)
		}
	}
	if !low {
		return nil
	}
	return syscall.Setpriority(syscall.PRIO_PROCESS, 0, lowPriority)
}

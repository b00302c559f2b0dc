package apart

import (
	"os"
	"strconv"
	"strings"
)

// machineMemory is how many bytes there are for this process: those of the machine (proc(5), MemTotal), or fewer where its group is
// given fewer (cgroups(7), memory.max of version 2, memory.limit_in_bytes of version 1).
func machineMemory() int64 {
	most := memTotal()
	for _, file := range []string{"/sys/fs/cgroup/memory.max", "/sys/fs/cgroup/memory/memory.limit_in_bytes"} {
		text, err := os.ReadFile(file)
		if err != nil {
			continue
		}
		if limit, err := strconv.ParseInt(strings.TrimSpace(string(text)), 10, 64); err == nil { // "max" is no number
			most = min(most, limit)
		}
	}
	return most
}

func memTotal() int64 {
	text, err := os.ReadFile("/proc/meminfo")
	if err != nil {
		return 0
	}
	_, rest, _ := strings.Cut(string(text), "MemTotal:")
	kib, _, _ := strings.Cut(strings.TrimSpace(rest), " ")
	n, err := strconv.ParseInt(kib, 10, 64)
	if err != nil {
		return 0
	}
	return n << 10
}

package apart

import "golang.org/x/sys/unix"

// machineMemory is how many bytes the machine has; 0 where that cannot be read.
func machineMemory() int64 {
	n, err := unix.SysctlUint64("hw.memsize")
	if err != nil {
		return 0
	}
	return int64(n)
}

//go:build !linux && !darwin

package apart

// machineMemory is 0: confine sets no limits here.
func machineMemory() int64 { return 0 }

//go:build !race

package apart

const shadow = false

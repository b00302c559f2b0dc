//go:build race

package apart

// shadow: the race detector maps many times the memory that a program takes, which counts as the program's own.
const shadow = true

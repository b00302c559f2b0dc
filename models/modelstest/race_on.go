//go:build race

package modelstest

const raceDetector = true

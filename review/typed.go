package review

import (
	"math"
	"strconv"
	"strings"
)

// Unreadable stands for a typed number that is none: it lies out of every range, so that its field is told to be wrong
// together with all others.
const Unreadable = math.MaxFloat64

// TypedDecimal is a number with a point where it was typed with a comma, as many languages write it.
func TypedDecimal(text string) string { return strings.Replace(text, ",", ".", 1) }

// TypedNumber reads a number as people type it, with a point or a comma: nil where nothing was typed, Unreadable where it
// is none.
func TypedNumber(text string) *float64 {
	if text == "" {
		return nil
	}
	x, err := strconv.ParseFloat(TypedDecimal(text), 64)
	if err != nil || math.IsNaN(x) || math.IsInf(x, 0) {
		x = Unreadable
	}
	return &x
}

// TypedWhole reads a whole number: 0 where nothing was typed, -1, out of every range of counts, where it is none.
func TypedWhole(text string) int {
	if text == "" {
		return 0
	}
	n, err := strconv.Atoi(text)
	if err != nil {
		return -1
	}
	return n
}

package review

import "time"

// Visit is how far somebody has come in the first visit, which shows the house on real examples.
type Visit struct {
	Person     string
	Step       int        // reached last, 1 to VisitSteps; 0: not begun
	FinishedAt *time.Time // gone through, or not wanted
}

// VisitSteps is how many steps a first visit has.
const VisitSteps = 3

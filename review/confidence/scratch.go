package confidence

// mostSpare is how many scratches a model keeps: as many as there are computations at the same time, within reason.
const mostSpare = 64

// scratch is memory that one computation needs and the next can use again. A channel holds the spare ones of a model,
// because sync.Pool forgets them whenever garbage is collected.
type scratch struct {
	weighing weighing
	arranged arranged
	prior    []float64 // by hypothesis
	looks    looks
	// Of FillWhy.
	exponents, logs, totals []float64
	others                  []float64 // by form
}

func (m *Model) borrow() *scratch {
	select {
	case s := <-m.spare:
		return s
	default:
		return &scratch{}
	}
}

func (m *Model) giveBack(s *scratch) {
	select {
	case m.spare <- s:
	default:
	}
}

// resized returns a slice of that length, with any contents, over the same memory where that is large enough.
func resized[T any](slice []T, length int) []T {
	if cap(slice) < length {
		return make([]T, length)
	}
	return slice[:length]
}

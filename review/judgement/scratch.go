package judgement

import "revidit/review/confidence"

// mostSpare is how many scratches a judge keeps: as many as there are assessments at the same time, within reason.
const mostSpare = 64

// scratch is memory that one assessment needs and the next can use again. A channel holds the spare ones of a judge,
// because sync.Pool forgets them whenever garbage is collected.
type scratch struct {
	gathered  gathered
	posterior confidence.Posterior
	other     confidence.Posterior // of what Two weighs
	weights   confidence.Weights
	unfit     bool     // no family explains what was stated well
	keys      []uint64 // to sort by

	accuracy, bits []float64 // by character
	views          []bool    // by index of index.views: a photo shows it
	left, order    []int     // characters still to be put in order, and those in order
	at             []side    // by character: where it is looked at
	votes          []int     // by side
	stops          []stop    // by side

	found, unusual []Contradiction
	first          []int // by character: its first finding, or -1
	sets           []formSet
	several        []*Finding // of sets
	chosen         []int
	sources        []string
	same           []string // characters that partly say the same, or that the tables lack
}

func (j *Judge) borrow() *scratch {
	select {
	case s := <-j.spare:
		return s
	default:
		return &scratch{}
	}
}

func (j *Judge) giveBack(s *scratch) {
	select {
	case j.spare <- s:
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

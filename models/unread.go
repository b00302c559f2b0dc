package models

import (
	"fmt"

	"revidit/review"
)

// unreadable is the error for a row whose body is no value of ours, as a damaged file or a hand in the database leaves it.
func unreadable(what, id string, cause error) error {
	return review.Fault(review.KindDamaged, fmt.Errorf("decode %s %s: %w", what, id, cause),
		"The stored copy of %s %s cannot be read. Nothing is lost: its history is whole, and the keeper of this server makes the copy "+
			"anew from that with revidit rebuild.", what, id)
}

// unreadRow is a row that is left out of a walk.
type unreadRow struct {
	stream string
	err    error
}

// leaveOut tells of rows that are left out, or returns the error of the first where nobody listens.
func leaveOut(rows []unreadRow, listen func(stream string)) error {
	for _, r := range rows {
		if listen == nil {
			return r.err
		}
		listen(r.stream)
	}
	return nil
}

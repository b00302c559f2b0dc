package service

import (
	"errors"
	"syscall"

	"revidit/review"
)

// DiskFault is an error of the file system, with words for people where the disk is full.
func DiskFault(err error) error {
	for _, full := range []error{syscall.ENOSPC, syscall.EDQUOT, syscall.EFBIG} {
		if errors.Is(err, full) {
			return review.Fault(review.KindFull, err, "The disk of this server is full, so nothing of this request was stored. "+
				"What was stored before is safe. Tell the keeper of this server, and try again when there is room.")
		}
	}
	return err
}

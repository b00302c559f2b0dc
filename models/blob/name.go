// Package blob keeps photo bytes under names that never change their content: as files in a folder, or in memory.
package blob

import (
	"fmt"
	"regexp"

	"revidit/review"
)

// validName: lower-case words in folders, without dots, so that no name leads out of a folder, hides, or meets a
// temporary file; the same on file systems that know no case.
var validName = regexp.MustCompile(`^[a-z0-9][a-z0-9_-]{0,127}(/[a-z0-9][a-z0-9_-]{0,127}){0,3}$`)

func checkName(name string) error {
	if !validName.MatchString(name) {
		return fmt.Errorf("%q is no name for photo bytes", name)
	}
	return nil
}

func notFound(name string) error {
	return review.Errorf(review.KindNotFound, "The bytes of this photo (%s) are not there.", name)
}

package apart

import (
	"encoding/json"
	"errors"
	"fmt"
	"os"
	"path/filepath"
	"strconv"
	"time"

	"revidit/review/photo"
)

// ourFault is the exit code where the fault is none of the photo's: a full disk, a limit that cannot be set. The runtime ends a
// program that runs out of memory or panics with 2.
const ourFault = 3

// readOne is the whole process: it reads the photo in args[0] within the limits of the others, and leaves files in its folder.
func readOne(args []string) int {
	// Whoever started this may be gone and cannot kill it any more.
	time.AfterFunc(wallTime, func() { os.Exit(ourFault) })
	if err := readWithin(args); err != nil {
		fmt.Fprintln(os.Stderr, err)
		return ourFault
	}
	return 0
}

func readWithin(args []string) error {
	if len(args) != 6 {
		return fmt.Errorf("a reader is started by the server alone")
	}
	var numbers [3]int64
	for i := range numbers {
		n, err := strconv.ParseInt(args[1+i], 10, 64)
		if err != nil {
			return fmt.Errorf("a limit of a reader: %w", err)
		}
		numbers[i] = n
	}
	large, err := strconv.Atoi(args[5])
	if err != nil {
		return fmt.Errorf("a limit of a reader: %w", err)
	}
	if err := confine(numbers[2], args[4] == "true"); err != nil {
		return fmt.Errorf("the limits of a reader cannot be set: %w", err)
	}
	upload, err := os.Open(args[0])
	if err != nil {
		return err
	}
	defer upload.Close()
	var a answer
	folder := filepath.Dir(args[0])
	a.Picture, err = photo.Read(upload, photo.Limits{Bytes: numbers[0], Pixels: numbers[1], Large: large, Alone: true, Kept: func(original []byte) error {
		return os.WriteFile(filepath.Join(folder, originalFile), original, 0o600)
	}})
	var refused *photo.RefusedError
	if errors.As(err, &refused) {
		a.Refused = refused.Reason
	} else if err != nil {
		return err
	}
	return leave(folder, a)
}

func leave(folder string, a answer) error {
	for name, bytes := range files(&a.Picture) {
		if name == originalFile && *bytes == nil { // it was left already, or the photo was refused
			continue
		}
		if err := os.WriteFile(filepath.Join(folder, name), *bytes, 0o600); err != nil {
			return err
		}
		*bytes = nil
	}
	text, err := json.Marshal(a)
	if err != nil {
		return err
	}
	return os.WriteFile(filepath.Join(folder, answerFile), text, 0o600)
}

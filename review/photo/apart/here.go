package apart

import (
	"context"
	"fmt"
	"os"

	"revidit/review/photo"
)

// Here reads photos within this process. It is for pictures that the program has drawn itself: what strangers send is read apart, where
// it can take neither the memory of a server nor more of its time than it is given.
type Here struct{}

// Read reads the photo in a file and hands it to use. A file that is not accepted gives a *photo.RefusedError; use is not called then.
func (Here) Read(ctx context.Context, file string, l photo.Limits, use func(photo.Picture) error) error {
	if err := ctx.Err(); err != nil {
		return err
	}
	opened, err := os.Open(file)
	if err != nil {
		return fmt.Errorf("photo: open the upload: %w", err)
	}
	defer opened.Close()
	picture, err := photo.Read(opened, l)
	if err != nil {
		return err
	}
	return use(picture)
}

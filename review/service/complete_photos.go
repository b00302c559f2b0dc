package service

import (
	"context"
	"errors"
	"io"
	"time"

	"revidit/review"
	"revidit/review/jobs"
	"revidit/review/photo"
)

const (
	// completeEvery is how often photos are looked for that lack something: those of an earlier program come at once or never.
	completeEvery = 24 * time.Hour
	// completedAtOnce is how many are looked up in one query.
	completedAtOnce = 200
)

// LookReader finds photos of a time before photos had looks.
type LookReader interface {
	// PhotosWithoutLook are the SHA-256 of originals of which nothing says what they look like, in their order, at most so many behind one
	// (empty: from the first), and CountPhotosWithoutLook how many there are in all.
	PhotosWithoutLook(ctx context.Context, after string, most int) ([]string, error)
	CountPhotosWithoutLook(ctx context.Context) (int, error)
}

// Completed is what a walk through such photos has done.
type Completed struct {
	Looked  int `json:"looked"`
	Copies  int `json:"copies"`  // middle copies that were made
	Damaged int `json:"damaged"` // photos whose copies cannot be read
}

// completing is the cursor of the job.
type completing struct {
	After     string    `json:"after"`
	Completed Completed `json:"completed"`
	meter
}

// completePhotosSlice goes on through the photos that lack something. Bytes come first, what a photo looks like with the slice: of what was
// begun and not stored the next run makes the same again.
func (s *Service) completePhotosSlice(ctx context.Context, slice jobs.Slice) (step JobStep, err error) {
	var at completing
	if err := decodeCursor(slice, &at); err != nil {
		return step, err
	}
	at.begin()
	if step.Total = slice.Total; slice.Cursor == nil {
		if step.Total, err = s.store.CountPhotosWithoutLook(ctx); err != nil {
			return step, err
		}
	}
	for step.More = true; step.More && !slice.Enough(); {
		if step.More, err = s.completeNext(ctx, slice, &at, &step.Batch); err != nil {
			return step, err
		}
		if slice.Stop == nil {
			break // nobody says when it is enough
		}
	}
	at.end()
	step.Done = at.Completed.Looked
	if step.More {
		step.Cursor, err = encode(at)
		return step, err
	}
	mark, err := at.made(review.FoundCompleted, "", "", s.moment(itself).Now, at.Completed)
	step.Batch.Found = []review.Found{mark}
	return step, err
}

// completeNext completes the next photos, and says whether there can be others.
func (s *Service) completeNext(ctx context.Context, slice jobs.Slice, at *completing, batch *review.Batch) (bool, error) {
	photos, err := s.store.PhotosWithoutLook(ctx, at.After, completedAtOnce)
	if err != nil {
		return false, err
	}
	for _, hash := range photos {
		look, err := s.completePhoto(ctx, hash, at)
		switch {
		case review.KindOf(err) == review.KindDamaged:
			if at.Completed.Damaged < problemsKept {
				s.log.Error("a photo cannot be completed", "photo", hash, "error", err)
			}
			at.Completed.Damaged++
		case err != nil:
			return false, err
		default:
			batch.Looks = append(batch.Looks, review.PhotoLook{SHA256: hash, Look: string(look)})
		}
		at.After = hash
		at.Completed.Looked++
		at.look()
		if slice.Enough() {
			return true, nil
		}
	}
	return len(photos) == completedAtOnce, nil
}

// completePhoto makes the middle copy of a photo where there is none, and tells what it looks like.
func (s *Service) completePhoto(ctx context.Context, hash string, at *completing) (photo.Likeness, error) {
	sums, err := s.digestsOfCopies(ctx, hash)
	if err != nil {
		return "", err
	}
	display, err := s.bytesOf(ctx, hash, SizeDisplay, sums.Display)
	if err != nil {
		return "", err
	}
	middle, look, err := photo.Complete(display)
	if err != nil {
		return "", damagedPhoto(hash, SizeDisplay, err)
	}
	if sums.Middle != "" {
		return look, nil
	}
	thumb, err := s.bytesOf(ctx, hash, SizeThumb, sums.Thumb)
	if err != nil {
		return "", err
	}
	made := digestSums{Display: sumOf(display), Middle: sumOf(middle), Thumb: sumOf(thumb)}
	text, err := encode(made)
	if err != nil {
		return "", err
	}
	if err := s.blobs.Put(ctx, blobName(hash, SizeMiddle), middle); err != nil {
		return "", DiskFault(err)
	}
	// The same photo may have been uploaded again meanwhile, which has made all its copies anew.
	if now, err := s.digestsOfCopies(ctx, hash); err != nil || now != sums {
		return look, err
	}
	at.Completed.Copies++
	return look, DiskFault(s.blobs.Put(ctx, blobName(hash, sizeSums), text))
}

// bytesOf are those of a copy, as they were stored.
func (s *Service) bytesOf(ctx context.Context, hash string, size Size, want string) ([]byte, error) {
	body, err := s.soundAs(ctx, hash, size, want)
	if err != nil {
		return nil, err
	}
	data, err := io.ReadAll(body)
	return data, errors.Join(err, body.Close())
}

// completePhotosDue: photos that lack something were last looked for a day ago, or never.
func (s *Service) completePhotosDue(ctx context.Context) ([]jobs.Job, error) {
	return s.dueAfter(ctx, review.FoundCompleted, completeEvery, jobs.CompletePhotos())
}

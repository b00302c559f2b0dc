package service

import (
	"context"
	"errors"
	"io"
	"os"
	"strings"
	"time"

	"revidit/review"
	"revidit/review/photo"
)

// Size is how large a photo is wanted.
type Size string

const (
	SizeOriginal Size = "original" // as uploaded, without metadata
	SizeDisplay  Size = "display"  // JPEG, long side at most 1600 pixels
	SizeMiddle   Size = "middle"   // JPEG, long side at most 800 pixels; of older photos the display copy
	SizeThumb    Size = "thumb"    // JPEG, long side at most 320 pixels
)

// Offer is what a photo said about itself before that was taken out of it: the member may put it on the label.
type Offer struct {
	Place *photo.Place `json:"place,omitempty"`
	// Taken is the camera's clock; it is the date of the photo, not of the collecting. Zero where it is not known.
	Taken time.Time `json:"taken,omitzero"`
	// Unused says what could not be used although the photo was accepted. Warnings are the same in words, which the API fills in.
	Unused   []photo.Warning `json:"unused,omitempty" doc:"What could not be used although the photo was accepted, as codes: metadata, profile, profile-copy, pages, pictures, kept-as-jpeg:FORMAT"`
	Warnings []string        `json:"warnings,omitempty" doc:"unused, in words"`
	// Seen are photos that are here already and show the same, at most three.
	Seen []SeenPhoto `json:"seen,omitempty" doc:"Photos that are here already and are the same, or look nearly so, as far as the caller may see them"`
}

// Upload checks and stores a photo for a specimen that its uploader will submit. Metadata of place is taken out
// before anything is hashed or stored; what it said is returned, so that the member may put it on the label. A photo
// that is refused leaves nothing behind.
//
// The bytes go to the disk as they arrive and are read by a process of its own, which ends when ctx does. A person sends one
// photo at a time; a second one waits. Who has sent more than is taken in a day gets KindTooMany.
func (s *Service) Upload(ctx context.Context, actor review.Actor, r io.Reader) (review.Upload, Offer, error) {
	return s.UploadOnce(ctx, actor, r, "")
}

// UploadOnce is Upload under an idempotency key: the same photo sent again with the same key is the one that was stored.
func (s *Service) UploadOnce(ctx context.Context, actor review.Actor, r io.Reader, key string) (upload review.Upload, offer Offer, err error) {
	if !review.May(actor, review.ActUpload, "") {
		return review.Upload{}, Offer{}, review.Forbidden(actor, review.ActUpload, "")
	}
	end, err := s.receiver.begin(ctx, actor.Person, s.now())
	if err != nil {
		return review.Upload{}, Offer{}, err
	}
	folder, file, size, err := s.receiver.spool(r)
	defer func() {
		end(size)
		if folder != "" {
			err = errors.Join(err, os.RemoveAll(folder))
		}
	}()
	if err != nil {
		return review.Upload{}, Offer{}, err
	}
	err = s.reader.Read(ctx, file, photo.DefaultLimits, func(picture photo.Picture) error {
		offer = Offer{Place: picture.Place, Taken: picture.Taken, Unused: picture.Warnings}
		if upload, err = s.keep(ctx, actor, picture, key); err != nil {
			return err
		}
		offer.Seen, err = s.seenBefore(ctx, actor, upload, picture)
		return err
	})
	var refused *photo.RefusedError
	if errors.As(err, &refused) {
		return review.Upload{}, Offer{}, review.Invalidf("photo", "%s", refused.Reason)
	}
	if err != nil {
		return review.Upload{}, Offer{}, err
	}
	return upload, offer, nil
}

// PhotoReader reads the upload in a file within limits and hands what came of it to use before it returns. A file that is not accepted
// gives a *photo.RefusedError; use is not called then.
type PhotoReader interface {
	Read(ctx context.Context, file string, l photo.Limits, use func(photo.Picture) error) error
}

// keep stores a picture.
func (s *Service) keep(ctx context.Context, actor review.Actor, picture photo.Picture, key string) (review.Upload, error) {
	// Bytes first, row second: a stray file is harmless, a row without bytes is a fault.
	copies := map[Size][]byte{SizeOriginal: picture.Original, SizeDisplay: picture.Display, SizeMiddle: picture.Middle, SizeThumb: picture.Thumb}
	sums, err := encode(digestSums{Display: sumOf(picture.Display), Middle: sumOf(picture.Middle), Thumb: sumOf(picture.Thumb)})
	if err != nil {
		return review.Upload{}, err
	}
	for _, size := range []Size{SizeOriginal, SizeDisplay, SizeMiddle, SizeThumb} {
		if err := s.blobs.Put(ctx, blobName(picture.SHA256, size), copies[size]); err != nil {
			return review.Upload{}, DiskFault(err)
		}
	}
	if err := s.blobs.Put(ctx, blobName(picture.SHA256, sizeSums), sums); err != nil {
		return review.Upload{}, DiskFault(err)
	}
	m := s.moment(actor)
	upload := review.Upload{Photo: review.Photo{ID: m.NewID(), SHA256: picture.SHA256, Type: picture.Type, Width: picture.Width,
		Height: picture.Height, By: actor.Person, At: m.Now}, Look: string(picture.Look)}
	before, err := s.Once(ctx, actor, key, "photo "+picture.SHA256, func(ctx context.Context) error {
		w := review.NewWriter(m)
		w.Batch.Upload = &upload
		return s.commit(ctx, w)
	})
	if err == nil && before != "" {
		return s.store.Upload(ctx, before)
	}
	return upload, err
}

// OriginalName is the name under which the original of a photo stands in Blobs.
func OriginalName(sha256 string) string { return blobName(sha256, SizeOriginal) }

func blobName(sha256 string, size Size) string {
	return sha256[:2] + "/" + sha256 + "-" + string(size)
}

// photoHash is the SHA-256 of the original, in hex, whose bytes or copies stand under a blob name; empty for a name
// that this service does not give.
func photoHash(blob string) string {
	_, file, _ := strings.Cut(blob, "/")
	hash, _, found := strings.Cut(file, "-")
	if !found || len(hash) != 64 {
		return ""
	}
	return hash
}

// PhotoBytes are an open photo, with its media type and the entity tag of its bytes. The caller closes Body.
type PhotoBytes struct {
	Type string
	Tag  string
	Body io.ReadCloser
}

// Photo opens a photo in a size. Before a specimen has it, and while it stands in drafts alone, only its uploader sees it; one
// of the labels is for those who may see the withheld label data.
func (s *Service) Photo(ctx context.Context, actor review.Actor, id string, size Size) (PhotoBytes, error) {
	if size != SizeOriginal && size != SizeDisplay && size != SizeMiddle && size != SizeThumb {
		return PhotoBytes{}, review.Errorf(review.KindNotFound, "There is no photo size %q.", size)
	}
	upload, err := s.store.Upload(ctx, id)
	if err != nil {
		return PhotoBytes{}, err
	}
	if upload.By != actor.Person {
		seen, err := s.seesPhoto(ctx, actor, upload)
		if err != nil {
			return PhotoBytes{}, err
		}
		if !seen {
			return PhotoBytes{}, review.Errorf(review.KindNotFound, "There is no photo %s.", id)
		}
	}
	body, err := s.sound(ctx, upload.SHA256, size)
	if err != nil {
		return PhotoBytes{}, err
	}
	kind := "image/jpeg"
	if size == SizeOriginal {
		kind = upload.Type
	}
	return PhotoBytes{Type: kind, Tag: upload.SHA256 + "-" + string(size), Body: body}, nil
}

// seesPhoto says whether an actor may see a photo of somebody else: it stands in a submission that the actor may read, and does
// not show what is withheld from the actor.
func (s *Service) seesPhoto(ctx context.Context, actor review.Actor, upload review.Upload) (bool, error) {
	if upload.Specimen == "" {
		return false, nil
	}
	spec, err := s.store.Specimen(ctx, upload.Specimen)
	if err != nil {
		return false, err
	}
	submissions, err := s.store.SubmissionsOf(ctx, upload.Specimen)
	if err != nil {
		return false, err
	}
	seen := review.SpecimenSeenBy(actor, spec, submissions)
	_, ok := seen.Photo(upload.ID)
	return ok, nil
}

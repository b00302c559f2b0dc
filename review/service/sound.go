package service

import (
	"context"
	"crypto/sha256"
	"encoding/hex"
	"encoding/json"
	"errors"
	"fmt"
	"io"

	"revidit/review"
)

// sizeSums is no size but the name under which the digests of the copies stand, which are named by that of their original.
const sizeSums Size = "sums"

// digestSums are SHA-256 in hex.
type digestSums struct {
	Display string `json:"display"`
	Middle  string `json:"middle,omitempty"` // of photos since there is such a copy
	Thumb   string `json:"thumb"`
}

func sumOf(data []byte) string {
	sum := sha256.Sum256(data)
	return hex.EncodeToString(sum[:])
}

// sound opens the bytes of a photo that a row names, after it has read them once: what a disk has damaged is no evidence,
// and nobody is to judge a beetle by it. Copies that were stored before their digests were kept are taken as they are.
func (s *Service) sound(ctx context.Context, hash string, size Size) (io.ReadCloser, error) {
	want := hash
	if size != SizeOriginal {
		sums, err := s.digestsOfCopies(ctx, hash)
		if err != nil {
			return nil, err
		}
		if size == SizeMiddle && sums.Middle == "" {
			size = SizeDisplay
		}
		want = sums.of(size)
	}
	return s.soundAs(ctx, hash, size, want)
}

// soundAs opens bytes whose SHA-256 is to be want; an empty one is taken as it is.
func (s *Service) soundAs(ctx context.Context, hash string, size Size, want string) (io.ReadCloser, error) {
	body, err := s.blobs.Open(ctx, blobName(hash, size))
	if review.KindOf(err) == review.KindNotFound {
		return nil, damagedPhoto(hash, size, err)
	}
	if err != nil {
		return nil, err
	}
	if want == "" {
		return body, nil
	}
	sum := sha256.New()
	_, err = io.Copy(sum, body)
	if err = errors.Join(err, body.Close()); err != nil {
		return nil, damagedPhoto(hash, size, err)
	}
	if found := hex.EncodeToString(sum.Sum(nil)); found != want {
		return nil, damagedPhoto(hash, size, fmt.Errorf("its SHA-256 is %s, not %s", found, want))
	}
	return s.blobs.Open(ctx, blobName(hash, size))
}

// digestsOfCopies are empty where none were stored.
func (s *Service) digestsOfCopies(ctx context.Context, hash string) (sums digestSums, err error) {
	body, err := s.blobs.Open(ctx, blobName(hash, sizeSums))
	if review.KindOf(err) == review.KindNotFound {
		return digestSums{}, nil
	}
	if err != nil {
		return digestSums{}, err
	}
	text, err := io.ReadAll(body)
	if err = errors.Join(err, body.Close()); err != nil {
		return digestSums{}, damagedPhoto(hash, sizeSums, err)
	}
	if err := json.Unmarshal(text, &sums); err != nil {
		return digestSums{}, damagedPhoto(hash, sizeSums, err)
	}
	return sums, nil
}

func (d digestSums) of(size Size) string {
	switch size {
	case SizeThumb:
		return d.Thumb
	case SizeMiddle:
		return d.Middle
	}
	return d.Display
}

// damagedPhoto is for the bytes of a photo that a row names. Its words tell nothing of where they are.
func damagedPhoto(hash string, size Size, cause error) error {
	if errors.Is(cause, context.Canceled) || errors.Is(cause, context.DeadlineExceeded) {
		return cause
	}
	return review.Fault(review.KindDamaged, fmt.Errorf("photo %s, %s: %w", hash, size, cause),
		"The stored file of this photo is damaged or missing, so it is not shown. Everything else is safe. "+
			"Whoever still has the photo mends it by uploading the same file again; otherwise the keeper of this server restores it from a backup.")
}

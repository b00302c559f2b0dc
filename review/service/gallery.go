package service

import (
	"container/list"
	"context"
	"fmt"
	"image"
	"io"
	"sync"
	"time"

	"revidit/review"
	"revidit/review/iiif"
	"revidit/review/photo"
)

// Bounds of what is kept of published photos between requests, in bytes, and of the work on them at once. A picture is opened for the
// first tile and cut for all that follow.
const (
	keptPieces = 32 << 20
	keptOpened = 48 << 20
	cutAtOnce  = 2
	// longestWait is how long a request waits for its turn at cutting.
	longestWait = 15 * time.Second
)

// gallery cuts published photos. It is safe for concurrent use.
type gallery struct {
	turns  chan struct{}
	pieces *shelf[[]byte]
	opened *shelf[image.Image]
}

func newGallery() *gallery {
	return &gallery{turns: make(chan struct{}, cutAtOnce), pieces: newShelf[[]byte](keptPieces), opened: newShelf[image.Image](keptOpened)}
}

// piece is a part of a copy, by the digest of the copy and the canonical path of the piece; open opens the copy's bytes.
func (g *gallery) piece(ctx context.Context, digest, canonical string, part iiif.Rect, w, h int, open func() (io.ReadCloser, error)) ([]byte, error) {
	key := digest + "/" + canonical
	if data, ok := g.pieces.get(key); ok {
		return data, nil
	}
	waiting, cancel := context.WithTimeout(ctx, longestWait)
	defer cancel()
	select {
	case g.turns <- struct{}{}:
		defer func() { <-g.turns }()
	case <-waiting.Done():
		if err := ctx.Err(); err != nil {
			return nil, fmt.Errorf("waiting to cut a photo: %w", err)
		}
		return nil, review.Errorf(review.KindDown, "Too many pictures are asked for at once. Nothing is lost; ask again in a minute.")
	}
	img, err := g.open(digest, open)
	if err != nil {
		return nil, err
	}
	data, err := photo.Cut(img, image.Rect(part.X, part.Y, part.X+part.W, part.Y+part.H), w, h)
	if err != nil {
		return nil, err
	}
	g.pieces.put(key, data, len(data))
	return data, nil
}

func (g *gallery) open(digest string, open func() (io.ReadCloser, error)) (image.Image, error) {
	if img, ok := g.opened.get(digest); ok {
		return img, nil
	}
	body, err := open()
	if err != nil {
		return nil, err
	}
	defer body.Close()
	data, err := io.ReadAll(body)
	if err != nil {
		return nil, fmt.Errorf("read a published photo: %w", err)
	}
	img, err := photo.OpenCopy(data)
	if err != nil {
		return nil, err
	}
	const bytesOfPixel = 3 // at most: three planes without subsampling
	g.opened.put(digest, img, img.Bounds().Dx()*img.Bounds().Dy()*bytesOfPixel)
	return img, nil
}

// shelf keeps what was used last, within a bound of bytes. It is safe for concurrent use.
type shelf[T any] struct {
	mu    sync.Mutex
	most  int
	bytes int
	order *list.List // of *kept[T], the last used first
	by    map[string]*list.Element
}

type kept[T any] struct {
	key   string
	value T
	bytes int
}

func newShelf[T any](most int) *shelf[T] {
	return &shelf[T]{most: most, order: list.New(), by: map[string]*list.Element{}}
}

func (s *shelf[T]) get(key string) (value T, ok bool) {
	s.mu.Lock()
	defer s.mu.Unlock()
	at, ok := s.by[key]
	if !ok {
		return value, false
	}
	s.order.MoveToFront(at)
	return at.Value.(*kept[T]).value, true
}

func (s *shelf[T]) put(key string, value T, bytes int) {
	s.mu.Lock()
	defer s.mu.Unlock()
	if _, known := s.by[key]; known || bytes > s.most {
		return
	}
	s.by[key] = s.order.PushFront(&kept[T]{key, value, bytes})
	for s.bytes += bytes; s.bytes > s.most; {
		last := s.order.Back()
		old := s.order.Remove(last).(*kept[T])
		delete(s.by, old.key)
		s.bytes -= old.bytes
	}
}

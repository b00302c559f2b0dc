package service

import (
	"bytes"
	"context"
	"errors"
	"fmt"
	"image/jpeg"
	"io"
	"os"

	"revidit/review"
	"revidit/review/iiif"
	"revidit/review/photo"
)

// PublishPhotos lets everybody see photos of a specimen, in copies of at most the chosen size.
func (s *Service) PublishPhotos(ctx context.Context, actor review.Actor, specimen string, version int, form review.PublishForm) (review.Specimen, error) {
	return s.onSpecimen(ctx, actor, specimen, version, review.ActPublish, func(w *review.Writer, b *Basis) (review.Change, error) {
		checked, err := review.CheckPublish(w.Moment, &b.Specimen, b.Submissions, form)
		if err != nil {
			return nil, err
		}
		var copies []review.PublicCopy
		for _, id := range checked.Photos {
			p, _ := b.Specimen.Photo(id)
			made, err := s.publicCopy(ctx, p, checked.Side)
			if err != nil {
				return nil, err
			}
			copies = append(copies, made)
		}
		return review.DecidePublish(w.Moment, &b.Specimen, b.Submissions, checked, copies)
	})
}

// UnpublishPhotos takes published photos back: from then on nobody finds them who is not logged in. Copies that others have made stay where
// they are.
func (s *Service) UnpublishPhotos(ctx context.Context, actor review.Actor, specimen string, version int, form review.UnpublishForm) (review.Specimen, error) {
	return s.onSpecimen(ctx, actor, specimen, version, review.ActPublish, func(w *review.Writer, b *Basis) (review.Change, error) {
		return review.DecideUnpublish(w.Moment, &b.Specimen, form)
	})
}

// onSpecimen loads a specimen, has one change of it decided, and stores it.
func (s *Service) onSpecimen(ctx context.Context, actor review.Actor, specimen string, version int, action review.Action,
	decide func(*review.Writer, *Basis) (review.Change, error)) (review.Specimen, error) {
	return again(ctx, func() (review.Specimen, error) {
		b, err := s.store.Basis(ctx, Asked{Specimen: specimen, Person: actor.Person})
		if err != nil {
			return review.Specimen{}, err
		}
		if review.May(actor, action, "") && version != AnyVersion && version != b.Specimen.Seq {
			return review.Specimen{}, staleSpecimen(version, b.Specimen.Seq)
		}
		w := review.NewWriter(s.moment(actor).NotBefore(b.Last))
		change, err := decide(w, &b)
		if err != nil {
			return review.Specimen{}, err
		}
		if err := w.Specimen(&b.Specimen, change); err != nil {
			return review.Specimen{}, err
		}
		return b.Specimen, s.commit(ctx, w)
	})
}

// publicSize is the name under which a published copy stands, by its digest: what is published stays as it is, whatever copies the
// service makes of the photo later.
func publicSize(digest string) Size { return Size("public-" + digest[:16]) }

// publicCopy makes and stores the copy of a photo that is published. The display copy serves as it is; another size is made of the
// original.
func (s *Service) publicCopy(ctx context.Context, p review.Photo, side int) (review.PublicCopy, error) {
	data, err := s.copyOf(ctx, p, side)
	if err != nil {
		return review.PublicCopy{}, err
	}
	config, err := jpeg.DecodeConfig(bytes.NewReader(data))
	if err != nil {
		return review.PublicCopy{}, damagedPhoto(p.SHA256, SizeDisplay, err)
	}
	made := review.PublicCopy{Photo: p.ID, SHA256: sumOf(data), Width: config.Width, Height: config.Height}
	if err := s.blobs.Put(ctx, blobName(p.SHA256, publicSize(made.SHA256)), data); err != nil {
		return review.PublicCopy{}, DiskFault(err)
	}
	return made, nil
}

func (s *Service) copyOf(ctx context.Context, p review.Photo, side int) (data []byte, err error) {
	if side == photo.DisplaySide {
		body, err := s.sound(ctx, p.SHA256, SizeDisplay)
		if err != nil {
			return nil, err
		}
		data, err = io.ReadAll(body)
		return data, errors.Join(err, body.Close())
	}
	original, err := s.sound(ctx, p.SHA256, SizeOriginal)
	if err != nil {
		return nil, err
	}
	folder, file, _, err := s.receiver.spool(original)
	defer func() {
		if folder != "" {
			err = errors.Join(err, os.RemoveAll(folder))
		}
	}()
	if err = errors.Join(err, original.Close()); err != nil {
		return nil, err
	}
	limits := photo.DefaultLimits
	if side > photo.DisplaySide {
		limits.Large = side
	}
	err = s.reader.Read(ctx, file, limits, func(picture photo.Picture) error {
		data = picture.Middle
		if limits.Large > 0 {
			data = picture.Large
		}
		return nil
	})
	return data, err
}

// notPublic is said of whatever is not published, whether it is here or not.
func notPublic() error {
	return review.Errorf(review.KindNotFound, "Nothing is published at this address. It may have been taken back.")
}

// PublicSpecimen is what everybody may see of a specimen.
func (s *Service) PublicSpecimen(ctx context.Context, id string) (review.PublicSpecimen, error) {
	b, err := s.store.Basis(ctx, Asked{Specimen: id})
	if review.KindOf(err) == review.KindNotFound {
		return review.PublicSpecimen{}, notPublic()
	}
	if err != nil {
		return review.PublicSpecimen{}, err
	}
	withheld, err := s.withheldOf(ctx, &b.Specimen)
	if err != nil {
		return review.PublicSpecimen{}, err
	}
	view, ok := review.PublicView(&b.Specimen, b.known(), withheld, b.Policy.Places)
	if !ok {
		return review.PublicSpecimen{}, notPublic()
	}
	return view, nil
}

// withheldOf are the withheld label data of a specimen, or nil where there are none any more.
func (s *Service) withheldOf(ctx context.Context, spec *review.Specimen) (*review.Withheld, error) {
	if spec.Withholding.ID == "" {
		return nil, nil
	}
	found, err := s.store.Withheld(ctx, []string{spec.Withholding.ID})
	if err != nil {
		return nil, err
	}
	record, ok := found[spec.Withholding.ID]
	if !ok {
		return nil, nil
	}
	w, err := record.Open(spec.Withholding)
	return &w, err
}

// PublicPhoto is a published photo.
func (s *Service) PublicPhoto(ctx context.Context, id string) (review.Photo, error) {
	upload, err := s.store.Upload(ctx, id)
	switch {
	case review.KindOf(err) == review.KindNotFound, err == nil && upload.Specimen == "":
		return review.Photo{}, notPublic()
	case err != nil:
		return review.Photo{}, err
	}
	spec, err := s.store.Specimen(ctx, upload.Specimen)
	if err != nil {
		return review.Photo{}, err
	}
	p, ok := spec.Photo(id)
	if !ok || !p.Shown() || spec.Undone() {
		return review.Photo{}, notPublic()
	}
	return p, nil
}

// PublicImage is what a request for a published photo comes to.
type PublicImage struct {
	Data      []byte
	Canonical string // path below the image's address
	Tag       string // entity tag
}

// PublicImage cuts a published photo as it is asked for. An *iiif.Error says what cannot be done.
func (s *Service) PublicImage(ctx context.Context, p review.Photo, r iiif.Request) (PublicImage, error) {
	if !p.Shown() {
		return PublicImage{}, notPublic()
	}
	c := p.Published
	part, err := r.Region.On(c.Width, c.Height)
	if err != nil {
		return PublicImage{}, err
	}
	w, h, err := r.Size.For(part, iiif.Limits{})
	if err != nil {
		return PublicImage{}, err
	}
	canonical := iiif.Canonical(c.Width, c.Height, part, w, h)
	open := func() (io.ReadCloser, error) { return s.soundAs(ctx, p.SHA256, publicSize(c.SHA256), c.SHA256) }
	made := PublicImage{Canonical: canonical, Tag: c.SHA256[:16] + "-" + sumOf([]byte(canonical))[:16]}
	if part.W == c.Width && part.H == c.Height && w == c.Width && h == c.Height {
		body, err := open()
		if err != nil {
			return PublicImage{}, err
		}
		defer body.Close()
		if made.Data, err = io.ReadAll(body); err != nil {
			return PublicImage{}, fmt.Errorf("read a published photo: %w", err)
		}
		return made, nil
	}
	made.Data, err = s.gallery.piece(ctx, c.SHA256, canonical, part, w, h, open)
	return made, err
}

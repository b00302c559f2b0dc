package web

import (
	"errors"
	"fmt"
	"io"
	"mime"
	"mime/multipart"
	"net/http"
	"strconv"
	"strings"

	"github.com/gin-gonic/gin"

	"revidit/review"
	"revidit/review/service"
	"revidit/web/pages"
	"revidit/web/words"
	"revidit/web/words/problems"
)

// Limits on the text of a form: many times what the largest page sends.
const (
	maxFormFields = 2000
	maxFieldBytes = 16 << 10
	maxFormBytes  = 1 << 20
	maxFormPhotos = 24
)

// sentForm is a form as it was sent, read once.
type sentForm struct {
	values map[string][]string
	photos pages.PhotoFields
}

func (f *sentForm) get(field string) string {
	if len(f.values[field]) == 0 {
		return ""
	}
	return f.values[field][0]
}

func (f *sentForm) version() int {
	n, err := strconv.Atoi(f.get("version"))
	if err != nil || n < 1 {
		// A form of ours always carries its version; 0 would mean "any".
		return -1
	}
	return n
}

// textForm reads a form without files.
func (s *Server) textForm(c *gin.Context) (*sentForm, error) {
	if err := c.Request.ParseForm(); err != nil {
		var large *http.MaxBytesError
		if errors.As(err, &large) {
			return nil, err
		}
		return nil, review.Invalidf("form", "cannot be read; send it again")
	}
	f := &sentForm{values: c.Request.PostForm}
	return f, f.check()
}

func (f *sentForm) check() error {
	fields := 0
	for field, values := range f.values {
		fields += len(values)
		if fields > maxFormFields {
			return review.Invalidf("form", "has more than %d fields", maxFormFields)
		}
		for _, v := range append(values, field) {
			if !isText(v) {
				return review.Invalidf(strings.ToValidUTF8(strings.ReplaceAll(field, "\x00", ""), "?"), "contains characters that are no text")
			}
		}
	}
	return nil
}

// photoForm reads a form with photos. Each photo goes straight into the service as it arrives; none is held here. offer
// says whether what a photo says about its place may be put on the label.
func (s *Server) photoForm(c *gin.Context, offer bool) (*sentForm, error) {
	media, _, err := mime.ParseMediaType(c.GetHeader("Content-Type"))
	if err != nil || media != "multipart/form-data" {
		return s.textForm(c)
	}
	parts, err := c.Request.MultipartReader()
	if err != nil {
		return nil, review.Invalidf("form", "cannot be read; send it again")
	}
	f := &sentForm{values: map[string][]string{}, photos: pages.PhotoFields{Offer: offer}}
	fresh, err := s.readParts(c, parts, f)
	if err != nil {
		return nil, err
	}
	if err := f.check(); err != nil {
		return nil, err
	}
	f.photos.Kept = append(f.keptPhotos(), fresh...)
	return f, nil
}

func (s *Server) readParts(c *gin.Context, parts *multipart.Reader, f *sentForm) ([]pages.KeptPhoto, error) {
	var fresh []pages.KeptPhoto
	left, fields := maxFormBytes, 0
	for {
		part, err := parts.NextPart()
		if errors.Is(err, io.EOF) {
			return fresh, nil
		}
		if err != nil {
			return nil, broken(err)
		}
		if part.FileName() != "" {
			kept, err := s.takePhoto(c, part, f, len(fresh))
			if err != nil {
				return nil, err
			}
			fresh = append(fresh, kept...)
			continue
		}
		if part.FormName() == "files" {
			continue // the file input with nothing chosen
		}
		text, err := io.ReadAll(io.LimitReader(part, maxFieldBytes+1))
		if err != nil {
			return nil, broken(err)
		}
		left -= len(text) + len(part.FormName())
		fields++
		if len(text) > maxFieldBytes || left < 0 || fields > maxFormFields {
			return nil, review.Invalidf(strings.ToValidUTF8(part.FormName(), "?"), "is longer than a form may be")
		}
		f.values[part.FormName()] = append(f.values[part.FormName()], string(text))
	}
}

func broken(err error) error {
	var large *http.MaxBytesError
	if errors.As(err, &large) {
		return err
	}
	return brokenOff()
}

// takePhoto stores one photo of a form. One that is refused is told with its reason, and the form goes on.
func (s *Server) takePhoto(c *gin.Context, part *multipart.Part, f *sentForm, before int) ([]pages.KeptPhoto, error) {
	name := shortName(part.FileName())
	if before >= maxFormPhotos {
		f.photos.Refused = append(f.photos.Refused, pages.RefusedPhoto{Name: name, Reason: words.N(c.Request.Context(), "submit.too-many-photos", maxFormPhotos)})
		return nil, nil
	}
	sent := &sentBody{from: part}
	upload, offer, err := s.Service.Upload(c.Request.Context(), actorOf(c), sent)
	if err != nil && sent.failed != nil {
		return nil, broken(sent.failed)
	}
	var refused *review.Error
	if errors.As(err, &refused) && refused.Kind == review.KindInvalid {
		f.photos.Refused = append(f.photos.Refused, pages.RefusedPhoto{Name: name, Reason: reasons(problems.In(c.Request.Context(), refused))})
		return nil, nil
	}
	if err != nil {
		return nil, err
	}
	return []pages.KeptPhoto{keptPhoto(upload, offer, name)}, nil
}

func reasons(e *review.Error) string {
	var words []string
	for _, p := range e.Fields {
		words = append(words, p.Message)
	}
	return strings.Join(words, " ")
}

// shortName is the name of a file as far as a page shows it.
func shortName(name string) string {
	letters := []rune(strings.ToValidUTF8(strings.ReplaceAll(name, "\x00", ""), "?"))
	if len(letters) > 60 {
		letters = append(letters[:59], '…')
	}
	return string(letters)
}

func keptPhoto(u review.Upload, o service.Offer, name string) pages.KeptPhoto {
	kept := pages.KeptPhoto{ID: u.ID, Name: name, Unused: o.Unused, Seen: o.Seen}
	if o.Place != nil {
		kept.Latitude, kept.Longitude = degrees(o.Place.Latitude), degrees(o.Place.Longitude)
		kept.Uncertainty, kept.Elevation = optional(o.Place.Uncertainty), optional(o.Place.Altitude)
	}
	if !o.Taken.IsZero() {
		kept.Date = o.Taken.Format("2006-01-02")
	}
	return kept
}

// degrees has five decimals, about a metre.
func degrees(x float64) string {
	return strings.TrimRight(strings.TrimRight(strconv.FormatFloat(x, 'f', 5, 64), "0"), ".")
}

func optional(x *float64) string {
	if x == nil {
		return ""
	}
	return strconv.FormatFloat(*x, 'f', 0, 64)
}

// keptPhotos are the photos that the form has kept from before.
func (f *sentForm) keptPhotos() []pages.KeptPhoto {
	var kept []pages.KeptPhoto
	for i := range 2 * maxFormPhotos {
		part := func(name string) string { return f.get(fmt.Sprintf("photos[%d].%s", i, name)) }
		if part("photo") == "" {
			continue
		}
		kept = append(kept, pages.KeptPhoto{ID: part("photo"), Name: part("name"), View: part("view"), LeaveOut: part("out") != "",
			Latitude: part("latitude"), Longitude: part("longitude"), Uncertainty: part("uncertainty"), Elevation: part("elevation"),
			Date: part("date"), UsePlace: part("useplace") != "", UseDate: part("usedate") != ""})
	}
	return kept
}

// dropLeftOut takes out the photos that the member wants to leave out.
func (f *sentForm) dropLeftOut() {
	var kept []pages.KeptPhoto
	for _, p := range f.photos.Kept {
		if !p.LeaveOut {
			kept = append(kept, p)
		}
	}
	f.photos.Kept = kept
}

// takeOffers puts on the label what photos say about themselves, where the member has chosen it.
func (f *sentForm) takeOffers() {
	for i := range f.photos.Kept {
		p := &f.photos.Kept[i]
		if p.UsePlace && p.Latitude != "" {
			f.put("withheld.latitude", p.Latitude)
			f.put("withheld.longitude", p.Longitude)
			f.put("withheld.uncertainty_m", p.Uncertainty)
			f.put("withheld.elevation_m", p.Elevation)
		}
		if p.UseDate && p.Date != "" {
			f.put("label.collected_from", p.Date)
		}
		p.UsePlace, p.UseDate = false, false // taken once: what is typed over it later stays
	}
}

func (f *sentForm) put(field, value string) { f.values[field] = []string{value} }

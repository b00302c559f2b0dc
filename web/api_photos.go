package web

import (
	"errors"
	"io"
	"mime"
	"net/http"
	"reflect"
	"strings"

	"github.com/danielgtaylor/huma/v2"
	"github.com/gin-gonic/gin"

	"revidit/review"
	"revidit/review/service"
	"revidit/web/pages"
)

// Uploaded is a stored photo and what it said about itself.
type Uploaded struct {
	Photo review.Upload `json:"photo"`
	Offer service.Offer `json:"offer" doc:"Place and time that stood in the photo; they have been taken out of it and are not kept"`
}

// registerPhotos adds the two routes that carry bytes. They stand on gin, because huma would hold a whole upload in
// memory before the service has looked at it; the document describes them all the same.
func (a *api) registerPhotos(group *gin.RouterGroup) {
	group.POST("/photos", a.uploadPhoto)
	group.GET("/photos/:id/:size", a.photo)
	registry := a.doors.OpenAPI().Components.Schemas
	binary := &huma.Schema{Type: huma.TypeString, Format: "binary"}

	upload := operation(http.MethodPost, "/photos", "upload-photo", "photos", "Store a photo for a specimen that the caller will submit")
	upload.RequestBody = &huma.RequestBody{Required: true, Content: map[string]*huma.MediaType{
		"multipart/form-data": {Schema: &huma.Schema{Type: huma.TypeObject, Required: []string{"photo"}, Properties: map[string]*huma.Schema{"photo": binary}}},
		"image/*":             {Schema: binary},
	}}
	upload.Parameters = []*huma.Param{keyParameter()}
	upload.Responses = a.problemResponses(400, 401, 403, 409, 413, 415, 429, 500, 503, 507)
	upload.Responses["201"] = &huma.Response{Description: "Created", Content: map[string]*huma.MediaType{
		"application/json": {Schema: registry.Schema(reflect.TypeFor[Uploaded](), true, "Uploaded")}}}
	a.doors.OpenAPI().AddOperation(&upload)

	read := operation(http.MethodGet, "/photos/{id}/{size}", "photo", "photos", "A photo")
	read.Parameters = []*huma.Param{
		{Name: "id", In: "path", Required: true, Schema: &huma.Schema{Type: huma.TypeString}},
		{Name: "size", In: "path", Required: true, Schema: &huma.Schema{Type: huma.TypeString, Enum: []any{"original", "display", "middle", "thumb"}}},
		{Name: "If-None-Match", In: "header", Schema: &huma.Schema{Type: huma.TypeString}},
	}
	read.Responses = a.problemResponses(400, 401, 404, 412, 500, 503)
	read.Responses["200"] = &huma.Response{Description: "OK", Content: map[string]*huma.MediaType{
		"image/jpeg": {Schema: binary}, "image/png": {Schema: binary}, "image/webp": {Schema: binary}}}
	read.Responses["304"] = &huma.Response{Description: "Not Modified"}
	a.doors.OpenAPI().AddOperation(&read)
}

func (a *api) uploadPhoto(c *gin.Context) {
	if !a.somebody(c) {
		return
	}
	body, err := photoIn(c.Request)
	if err != nil {
		a.fail(c, err)
		return
	}
	sent := &sentBody{from: body}
	upload, offer, err := a.Service.UploadOnce(c.Request.Context(), actorOf(c), sent, c.GetHeader(idempotencyHeader))
	if err != nil {
		a.fail(c, sent.blame(err))
		return
	}
	c.Header("Location", apiPrefix+"/photos/"+upload.ID+"/original")
	for _, w := range offer.Unused {
		offer.Warnings = append(offer.Warnings, pages.PhotoWarning(c.Request.Context(), w))
	}
	c.JSON(http.StatusCreated, Uploaded{Photo: upload, Offer: offer})
}

// photoIn returns the bytes of a photo: the part "photo" of a form, or the whole body.
func photoIn(r *http.Request) (io.Reader, error) {
	media, _, err := mime.ParseMediaType(r.Header.Get("Content-Type"))
	switch {
	case err == nil && media == "multipart/form-data":
		return photoPart(r)
	case err == nil && (strings.HasPrefix(media, "image/") || media == "application/octet-stream"):
		return r.Body, nil
	}
	return nil, newProblem(http.StatusUnsupportedMediaType, "Send the photo as the part \"photo\" of a form (multipart/form-data), or as the body (image/jpeg, image/png, image/webp). Nothing was stored.")
}

func photoPart(r *http.Request) (io.Reader, error) {
	form, err := r.MultipartReader()
	if err != nil {
		return nil, review.Invalidf("photo", "the form cannot be read; send it again")
	}
	for {
		part, err := form.NextPart()
		var large *http.MaxBytesError
		switch {
		case errors.As(err, &large):
			return nil, err
		case errors.Is(err, io.EOF):
			return nil, review.Invalidf("photo", "is missing from the form")
		case err != nil:
			return nil, brokenOff()
		case part.FormName() == "photo":
			return &lastPart{Reader: part, body: r.Body}, nil
		}
	}
}

// lastPart reads the rest of the body behind its own end: only then does the connection tell when the sender goes.
type lastPart struct {
	io.Reader
	body io.Reader
}

func (p *lastPart) Read(b []byte) (int, error) {
	n, err := p.Reader.Read(b)
	if errors.Is(err, io.EOF) {
		if _, rest := io.Copy(io.Discard, p.body); rest != nil {
			return n, rest
		}
	}
	return n, err
}

func brokenOff() error {
	return review.Invalidf("photo", "the upload broke off before its end. Nothing was stored; send the photo again")
}

// sentBody remembers that reading failed, which is the sender's fault and none of ours.
type sentBody struct {
	from   io.Reader
	failed error
}

func (b *sentBody) Read(p []byte) (int, error) {
	n, err := b.from.Read(p)
	if err != nil && !errors.Is(err, io.EOF) {
		b.failed = err
	}
	return n, err
}

func (b *sentBody) blame(err error) error {
	if _, known := problemOf(err); known || b.failed == nil {
		return err
	}
	return brokenOff()
}

func (a *api) photo(c *gin.Context) {
	if !a.somebody(c) {
		return
	}
	photo, err := a.Service.Photo(c.Request.Context(), actorOf(c), c.Param("id"), service.Size(c.Param("size")))
	if err != nil {
		a.fail(c, err)
		return
	}
	sendPhoto(c, photo, a.fail)
}

// problemResponses describes answers that are problems.
func (a *api) problemResponses(statuses ...int) map[string]*huma.Response {
	schema := a.doors.OpenAPI().Components.Schemas.Schema(reflect.TypeFor[Problem](), true, "Problem")
	responses := map[string]*huma.Response{}
	for _, status := range statuses {
		responses[statusText(status)] = &huma.Response{Description: http.StatusText(status),
			Content: map[string]*huma.MediaType{problemMedia: {Schema: schema}}}
	}
	return responses
}

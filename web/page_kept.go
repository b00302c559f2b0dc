package web

import (
	"context"
	"errors"
	"io"
	"mime"
	"mime/multipart"
	"net/http"
	"net/url"
	"strings"

	"github.com/a-h/templ"
	"github.com/gin-gonic/gin"

	"revidit/review"
	"revidit/web/pages"
	"revidit/web/words"
)

// keptPath is where somebody finds a form that was sent after the login had run out.
const keptPath = "/kept/"

// keepForm keeps what was sent by somebody whose login has run out, as far as it is text: photos that a form has uploaded stand in it
// by their ids. It returns where it is found after the login; empty where there is nothing to keep, or nobody whose it could be.
func (s *Server) keepForm(c *gin.Context) string {
	person := c.GetString(keyFormer)
	if person == "" || c.Request.Method != http.MethodPost || c.Request.URL.Path == "/photos" {
		return ""
	}
	values, err := s.textSent(c)
	if err != nil || len(values) == 0 {
		return ""
	}
	id, err := s.Service.KeepForm(c.Request.Context(), person, c.Request.URL.RequestURI(), values)
	if err != nil {
		s.Log.Error("a form could not be kept", "error", err.Error(), "request_id", requestID(c))
		return ""
	}
	return keptPath + id
}

// textSent is the text of a form, without its files.
func (s *Server) textSent(c *gin.Context) (map[string][]string, error) {
	media, _, err := mime.ParseMediaType(c.GetHeader("Content-Type"))
	if err != nil || media != "multipart/form-data" {
		f, err := s.textForm(c)
		if err != nil {
			return nil, err
		}
		return f.values, nil
	}
	parts, err := c.Request.MultipartReader()
	if err != nil {
		return nil, review.Invalidf("form", "cannot be read; send it again")
	}
	f := &sentForm{values: map[string][]string{}}
	if err := f.readText(parts); err != nil {
		return nil, err
	}
	return f.values, f.check()
}

// readText reads the text of a form and passes over its files.
func (f *sentForm) readText(parts *multipart.Reader) error {
	left := maxFormBytes
	for {
		part, err := parts.NextPart()
		if errors.Is(err, io.EOF) {
			return nil
		}
		if err != nil {
			return broken(err)
		}
		if part.FileName() != "" || part.FormName() == "files" {
			continue
		}
		text, err := io.ReadAll(io.LimitReader(part, maxFieldBytes+1))
		if err != nil {
			return broken(err)
		}
		if left -= len(text) + len(part.FormName()); left < 0 || len(text) > maxFieldBytes {
			return review.Invalidf("form", "is longer than a form may be")
		}
		f.values[part.FormName()] = append(f.values[part.FormName()], string(text))
	}
}

// keptPage shows a form again that was sent after the login had run out: those of a submission as they were filled in, any other
// one with a button that sends it.
func (s *Server) keptPage(c *gin.Context) {
	form, err := s.Service.KeptForm(c.Request.Context(), actorOf(c), c.Param("id"))
	if err != nil {
		s.fail(c, err)
		return
	}
	path, _, _ := strings.Cut(form.Path, "?")
	sent := &sentForm{values: form.Values}
	sent.photos = pages.PhotoFields{Kept: sent.keptPhotos(), Offer: true}
	draft, edits := draftIn(path)
	switch {
	case path == beginPath:
		s.keptInSite(c, sent, func(site pages.Site) {
			s.showBegin(c, http.StatusOK, site, pages.BeginData{Form: keptForm(c.Request.Context(), sent), Photos: sent.photos, Key: sent.get("key"), Draft: sent.get("draft")})
		})
	case path == "/submissions":
		s.keptInSite(c, sent, func(site pages.Site) {
			s.submitPage(c, http.StatusOK, site, pages.SubmitData{Form: keptForm(c.Request.Context(), sent), Photos: sent.photos, Key: sent.get("key")})
		})
	case edits:
		s.keptEdit(c, sent, draft)
	default:
		s.pageOfAll(c, http.StatusOK, func(site pages.Site) templ.Component { return pages.Kept(site, form) })
	}
}

// draftIn is the draft of whose form a path is.
func draftIn(path string) (id string, ok bool) {
	id, ok = strings.CutSuffix(strings.TrimPrefix(path, "/submissions/"), "/edit")
	if !ok || strings.Contains(id, "/") {
		return "", false
	}
	id, err := url.PathUnescape(id)
	return id, err == nil
}

func keptForm(ctx context.Context, sent *sentForm) pages.Form {
	form := pages.NewForm(sent.values)
	form.Message, form.Version = words.T(ctx, "kept.words"), sent.version()
	return form
}

func (s *Server) keptInSite(c *gin.Context, sent *sentForm, show func(pages.Site)) {
	site, err := s.siteOf(c, sent.get("group"))
	if err != nil {
		s.fail(c, err)
		return
	}
	show(site)
}

func (s *Server) keptEdit(c *gin.Context, sent *sentForm, id string) {
	view, err := s.Service.View(c.Request.Context(), actorOf(c), id)
	if err != nil {
		s.fail(c, err)
		return
	}
	site, err := s.siteOf(c, view.Submission.Group)
	if err != nil {
		s.fail(c, err)
		return
	}
	d := pages.SubmitData{Form: keptForm(c.Request.Context(), sent), Photos: sent.photos, Draft: id, Assessment: &view.Assessment}
	d.Photos.Offer = !view.LabelElsewhere()
	if view.LabelElsewhere() {
		d.Specimen = view.Specimen.ID
	}
	s.submitPage(c, http.StatusOK, site, d)
}

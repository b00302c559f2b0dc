package web

import (
	"context"
	"net/http"

	"github.com/gin-gonic/gin"
	"github.com/google/uuid"

	"revidit/review"
	"revidit/review/service"
	"revidit/web/pages"
)

// trayPage is where a whole tray begins: one label, many specimens.
func (s *Server) trayPage(c *gin.Context) {
	site, err := s.siteOf(c, c.Query("group"))
	if err != nil {
		s.fail(c, err)
		return
	}
	s.page(c, http.StatusOK, pages.Tray(site, pages.TrayData{Form: pages.NewForm(nil), Photos: pages.PhotoFields{}, Key: uuid.NewString()}))
}

// beginTray makes a draft of each specimen of a tray, with the same label, and the photos in their order where they were given.
// Sent again under the same key it makes no second ones.
func (s *Server) beginTray(c *gin.Context) {
	ctx, cancel := patient(c)
	defer cancel()
	c.Request = c.Request.WithContext(ctx)
	sent, err := s.photoForm(c, false)
	if err != nil {
		s.fail(c, err)
		return
	}
	site, err := s.siteOf(c, sent.get("group"))
	if err != nil {
		s.fail(c, err)
		return
	}
	sent.dropLeftOut()
	numbers, err := review.TrayNumbers(sent.text("numbers"))
	if err == nil {
		err = refusedPhotos(sent)
	}
	if err == nil && len(sent.photos.Kept) > len(numbers) {
		err = review.Invalidf("numbers", "are %d, and there are %d photos: one photo for each number, in their order", len(numbers), len(sent.photos.Kept))
	}
	if err == nil && sent.get("do") != "upload" {
		if err = s.makeTray(ctx, c, site, sent, numbers); err == nil {
			seeOther(c, "/submissions?mine=yes&status=draft")
			return
		}
	}
	if err != nil && !again(err) {
		s.fail(c, err)
		return
	}
	d := pages.TrayData{Form: pages.NewForm(sent.values), Photos: sent.photos, Key: sent.get("key")}
	status := http.StatusOK
	if err != nil && sent.get("do") != "upload" {
		d.Form, status = d.Form.Failed(c.Request.Context(), err, nil), pageStatus(err)
	}
	s.page(c, status, pages.Tray(site, d))
}

// makeTray begins one draft after the other; where one fails, those before it stand, and the same form goes on with the rest.
func (s *Server) makeTray(ctx context.Context, c *gin.Context, site pages.Site, sent *sentForm, numbers []string) error {
	judge, err := s.Service.Judge(ctx, site.Book.Group.ID)
	if err != nil {
		return err
	}
	photos := sent.photos.Kept
	for i, number := range numbers {
		one := &sentForm{values: map[string][]string{}}
		for field, values := range sent.values {
			one.values[field] = values
		}
		one.put("label.catalogue_number", number)
		if i < len(photos) {
			one.photos.Kept = photos[i : i+1]
		}
		form, err := sifted(judge, site.Book, one)
		if err != nil {
			return err
		}
		if _, err := s.draftOnce(ctx, c, form, sent.get("key")+"/"+number); err != nil {
			return err
		}
	}
	return nil
}

// draftOnce makes a draft under a key; where the key has made one of another form before, that one stays.
func (s *Server) draftOnce(ctx context.Context, c *gin.Context, form review.SubmissionForm, key string) (service.Done, error) {
	made, err := s.Service.Draft(ctx, actorOf(c), form, key)
	if review.KindOf(err) != review.KindConflict {
		return made, err
	}
	known, unknown := s.Service.MadeUnder(ctx, actorOf(c), key)
	if unknown != nil {
		return made, err
	}
	return service.Done{Submission: known}, nil
}

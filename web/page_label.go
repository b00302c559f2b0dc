package web

import (
	"context"
	"net/http"
	"net/url"

	"github.com/gin-gonic/gin"

	"revidit/review"
	"revidit/review/service"
	"revidit/web/pages"
)

// labelOf reads the label data of a form.
func labelOf(f *sentForm) (l review.Label, w review.Withheld) {
	for _, field := range review.LabelFields() {
		field.Set(&l, &w, f.text(field.Path()))
	}
	return l, w
}

// typedLabel are label data as a form shows them.
func typedLabel(form pages.Form, l review.Label, w review.Withheld) {
	for _, field := range review.LabelFields() {
		form.Set(field.Path(), field.Text(&l, &w))
	}
}

// relabellable is a specimen whose label data the actor may correct.
func (s *Server) relabellable(c *gin.Context) (service.SpecimenView, bool) {
	view, err := s.Service.Specimen(c.Request.Context(), actorOf(c), c.Param("id"))
	if err == nil && !review.May(actorOf(c), review.ActCorrectLabel, view.Specimen.Owner) {
		err = review.Errorf(review.KindForbidden, "Only its owner and a curator correct the label data of a specimen. Nothing was changed.")
	}
	if err != nil {
		s.fail(c, err)
		return view, false
	}
	return view, true
}

func (s *Server) relabelPage(c *gin.Context) {
	view, ok := s.relabellable(c)
	if !ok {
		return
	}
	d := pages.RelabelData{Specimen: view.Specimen.ID, Number: view.Specimen.Label.CatalogueNumber, Form: pages.NewForm(nil)}
	d.Form.Version = view.Specimen.Seq
	typedLabel(d.Form, view.Specimen.Label, view.Withheld)
	s.page(c, http.StatusOK, pages.Relabel(s.site(c), d))
}

func (s *Server) relabel(c *gin.Context) {
	view, ok := s.relabellable(c)
	if !ok {
		return
	}
	sent, err := s.textForm(c)
	if err != nil {
		s.fail(c, err)
		return
	}
	label, withheld := labelOf(sent)
	_, err = s.once(c, sent, func(ctx context.Context) error {
		_, err := s.Service.CorrectLabel(ctx, actorOf(c), view.Specimen.ID, sent.version(), label, withheld, sent.text("reason"))
		return err
	})
	if err == nil {
		seeOther(c, "/specimens/"+url.PathEscape(view.Specimen.ID))
		return
	}
	if !again(err) {
		s.fail(c, err)
		return
	}
	d := pages.RelabelData{Specimen: view.Specimen.ID, Number: view.Specimen.Label.CatalogueNumber, Form: pages.NewForm(sent.values).Failed(c.Request.Context(), err, nil)}
	d.Form.Version = view.Specimen.Seq
	s.page(c, pageStatus(err), pages.Relabel(s.site(c), d))
}

package web

import (
	"context"
	"net/http"

	"github.com/gin-gonic/gin"

	"revidit/review"
	"revidit/web/pages"
)

func (s *Server) answerPage(c *gin.Context) {
	view, site, err := s.submissionOf(c)
	if err == nil {
		_, err = review.Transition(actorOf(c), review.ActAnswer, &view.Submission)
	}
	if err != nil {
		s.fail(c, err)
		return
	}
	d := pages.AnswerData{View: view, Form: pages.NewForm(nil)}
	d.Form.Version = view.Version
	s.page(c, http.StatusOK, pages.Answer(site, d))
}

func (s *Server) answer(c *gin.Context) {
	ctx, cancel := patient(c)
	defer cancel()
	c.Request = c.Request.WithContext(ctx)
	view, site, err := s.submissionOf(c)
	if err != nil {
		s.fail(c, err)
		return
	}
	sent, err := s.photoForm(c, false)
	if err != nil {
		s.fail(c, err)
		return
	}
	form := review.AnswerForm{Text: sent.text("text"), Observations: observationForms(site.Book, sent), Withdraw: sent.values["withdraw"],
		SentOn: sent.text("sent_on"), ReceivedOn: sent.text("received_on")}
	sent.dropLeftOut()
	form.Photos = photoForms(sent)
	d := pages.AnswerData{View: view, Photos: sent.photos, Form: pages.NewForm(sent.values)}
	d.Form.Version = view.Version
	if sent.get("do") == "upload" {
		s.page(c, http.StatusOK, pages.Answer(site, d))
		return
	}
	if err = refusedPhotos(sent); err == nil {
		_, err = s.once(c, sent, func(ctx context.Context) error {
			_, err := s.Service.Answer(ctx, actorOf(c), view.Submission.ID, sent.version(), form)
			return err
		})
	}
	if err == nil {
		seeOther(c, submissionPath(view.Submission.ID))
		return
	}
	if !again(err) {
		s.fail(c, err)
		return
	}
	d.Form = d.Form.Failed(c.Request.Context(), err, namesOf(form.Observations, nil, nil))
	s.page(c, pageStatus(err), pages.Answer(site, d))
}

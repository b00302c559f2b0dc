package web

import (
	"context"
	"fmt"
	"net/http"
	"strings"

	"github.com/gin-gonic/gin"

	"revidit/review"
	"revidit/review/service"
	"revidit/web/pages"
)

func (s *Server) reviewPage(c *gin.Context) {
	view, site, err := s.submissionOf(c)
	if err == nil {
		_, err = review.Transition(actorOf(c), review.ActReview, &view.Submission)
	}
	if err == nil && view.Own.Everything {
		err = review.Errorf(review.KindForbidden, "The name and the characters of this submission are your own: nobody judges what is their own. Other reviewers do.")
	}
	if err != nil {
		s.fail(c, err)
		return
	}
	form := pages.NewForm(nil)
	form.Version = view.Version
	d := pages.ReviewData{View: view, Form: form, HeldByOther: heldByOther(c, view), Looked: c.Query("looked") == "blind"}
	s.page(c, http.StatusOK, pages.Review(site, d))
}

// saveReview stores one sitting of a reviewer. Whatever stands in the way, what was typed comes back with the page as
// it is now.
func (s *Server) saveReview(c *gin.Context) {
	sent, err := s.textForm(c)
	if err != nil {
		s.fail(c, err)
		return
	}
	actor, id := actorOf(c), c.Param("id")
	view, site, err := s.submissionOf(c)
	if err != nil {
		s.fail(c, err)
		return
	}
	form := reviewForm(sent, view)
	_, err = s.once(c, sent, func(ctx context.Context) error {
		_, err := s.Service.Review(ctx, actor, id, sent.version(), form)
		return err
	})
	if err == nil {
		seeOther(c, submissionPath(id))
		return
	}
	if !again(err) {
		s.fail(c, err)
		return
	}
	d := pages.ReviewData{View: view, HeldByOther: heldByOther(c, view), Form: pages.NewForm(sent.values).Failed(err, verdictNames(form))}
	d.Form.Version = view.Version
	s.page(c, pageStatus(err), pages.Review(site, d))
}

// reviewForm takes the verdicts on the observations of the view; those passed over are left out.
func reviewForm(sent *sentForm, view service.SubmissionView) review.ReviewForm {
	form := review.ReviewForm{Verdicts: []review.VerdictForm{}}
	for _, shown := range pages.ShownOf(view) {
		part := func(name string) string { return sent.text(pages.VerdictField(shown.ID, name)) }
		v := review.VerdictForm{Observation: shown.ID, Kind: review.VerdictKind(part("kind")),
			Better: strings.Replace(part("better"), ",", ".", 1), Note: part("note")}
		// A note or a better state without a verdict is a verdict forgotten: the service says so beside the row.
		if v.Kind != "" || v.Better != "" || v.Note != "" {
			form.Verdicts = append(form.Verdicts, v)
		}
	}
	if sent.get("opinion.kind") != "" || sent.text("opinion.family") != "" || sent.text("opinion.note") != "" {
		form.Opinion = &review.OpinionForm{Kind: review.OpinionKind(sent.get("opinion.kind")), Family: sent.text("opinion.family"),
			Basis: review.Basis(sent.get("opinion.basis")), Note: sent.text("opinion.note")}
		if form.Opinion.Kind == review.OpinionAgrees {
			form.Opinion.Rank = review.Rank(sent.get("opinion.rank"))
		}
	}
	return form
}

// verdictNames turns a path into verdicts by position into the name of its field.
func verdictNames(form review.ReviewForm) func(string) string {
	return func(path string) string {
		for i, v := range form.Verdicts {
			if part, ok := strings.CutPrefix(path, fmt.Sprintf("verdicts[%d].", i)); ok {
				return pages.VerdictField(v.Observation, part)
			}
		}
		return path
	}
}

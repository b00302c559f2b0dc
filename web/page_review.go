package web

import (
	"context"
	"fmt"
	"net/http"
	"slices"
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
	d := pages.ReviewData{View: view, Form: form, HeldByOther: heldByOther(c, view), Looked: c.Query("looked") == "blind", Saved: c.Query("saved")}
	d.Queue = queueFilter(c.Request.URL.Query())
	s.showReview(c, http.StatusOK, site, d)
}

// showReview shows the bench, with the photo of what the reviewer would be asked next, so that it is there by then. The next
// page itself is not fetched ahead: that somebody was shown a submission is recorded.
func (s *Server) showReview(c *gin.Context, status int, site pages.Site, d pages.ReviewData) {
	next, found, err := s.nextInQueue(c.Request.Context(), actorOf(c), d.Queue, d.View.Submission.ID)
	if err != nil {
		s.fail(c, err)
		return
	}
	if found && !next.Blind {
		d.NextPhoto = next.Photo
	}
	s.page(c, status, pages.Review(site, d))
}

// saveReview stores one sitting of a reviewer and goes on to the next one in their queue. What is worth a question is asked
// first. Whatever stands in the way, what was typed comes back with the page as it is now.
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
	d := pages.ReviewData{View: view, HeldByOther: heldByOther(c, view), Queue: sentFilter(sent), Form: pages.NewForm(sent.values)}
	for _, v := range form.Verdicts {
		d.Form.Set(pages.VerdictField(v.Observation, "kind"), string(v.Kind)) // that which a better state has meant
	}
	if d.Ask, err = s.doubts(c, sent, view, form); err == nil && len(d.Ask) == 0 {
		_, err = s.once(c, sent, func(ctx context.Context) error {
			_, err := s.Service.Review(ctx, actor, id, sent.version(), form)
			return err
		})
	}
	switch {
	case len(d.Ask) > 0:
		d.Form.Version = view.Version
		s.showReview(c, http.StatusOK, site, d)
	case err == nil:
		seeOther(c, pages.NextURL(d.Queue, id))
	case again(err):
		d.Form = d.Form.Failed(c.Request.Context(), err, verdictNames(form))
		d.Form.Version = view.Version
		s.showReview(c, pageStatus(err), site, d)
	default:
		s.fail(c, err)
	}
}

// doubts are the questions that a review raises and that its sender has not been asked yet. What was decided on something
// else is not asked about: it is refused.
func (s *Server) doubts(c *gin.Context, sent *sentForm, view service.SubmissionView, form review.ReviewForm) ([]review.Doubt, error) {
	if sent.version() != view.Version {
		return nil, nil
	}
	doubts, err := s.Service.Doubts(c.Request.Context(), actorOf(c), view.Submission.ID, form)
	sure := strings.Split(sent.get("sure"), ",")
	return slices.DeleteFunc(doubts, func(d review.Doubt) bool { return slices.Contains(sure, string(d.Kind)) }), err
}

// reviewForm takes the verdicts on the observations of the view; those passed over are left out. A better state without a
// verdict is a dispute. Beside another verdict the page does not show it, so that it is what was chosen before.
func reviewForm(sent *sentForm, view service.SubmissionView) review.ReviewForm {
	form := review.ReviewForm{Verdicts: []review.VerdictForm{}}
	for _, shown := range pages.ShownOf(view) {
		part := func(name string) string { return sent.text(pages.VerdictField(shown.ID, name)) }
		v := review.VerdictForm{Observation: shown.ID, Kind: review.VerdictKind(part("kind")),
			Better: review.TypedDecimal(part("better")), Note: part("note")}
		switch {
		case v.Better != "" && v.Kind == "":
			v.Kind = review.VerdictDispute
		case v.Kind != review.VerdictDispute:
			v.Better = ""
		}
		// A note without a verdict is a verdict forgotten: the service says so beside the line.
		if v.Kind != "" || v.Note != "" {
			form.Verdicts = append(form.Verdicts, v)
		}
	}
	form.Opinion = opinionForm(sent)
	return form
}

// opinionForm is the opinion, or nil where there is none. The other name is shown beside that choice alone.
func opinionForm(sent *sentForm) *review.OpinionForm {
	o := review.OpinionForm{Kind: review.OpinionKind(sent.get("opinion.kind")), Family: sent.text("opinion.family"),
		Basis: review.Basis(sent.get("opinion.basis")), Note: sent.text("opinion.note")}
	switch o.Kind {
	case review.OpinionAgrees:
		o.Rank, o.Family = review.Rank(sent.get("opinion.rank")), ""
	case review.OpinionLeftOpen:
		o.Family = ""
	case "":
		if o.Family == "" && o.Note == "" {
			return nil
		}
	}
	return &o
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

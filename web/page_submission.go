package web

import (
	"cmp"
	"context"
	"net/http"
	"slices"
	"time"

	"github.com/gin-gonic/gin"

	"revidit/review"
	"revidit/review/judgement"
	"revidit/review/service"
	"revidit/web/pages"
	"revidit/web/words"
)

func (s *Server) submissionPage(c *gin.Context) {
	s.showSubmission(c, http.StatusOK, pages.SubmissionData{Looked: c.Query("looked")})
}

// showSubmission shows a submission as it is now; d brings a form that comes back, if any.
func (s *Server) showSubmission(c *gin.Context, status int, d pages.SubmissionData) {
	view, site, err := s.submissionOf(c)
	if err != nil {
		s.fail(c, err)
		return
	}
	d.View, d.HeldByOther = view, heldByOther(c, view)
	d.Form.Version = view.Version
	s.page(c, status, pages.Submission(site, d))
}

func heldByOther(c *gin.Context, v service.SubmissionView) bool {
	return v.Submission.HeldByOther(actorOf(c).Person, time.Now())
}

// pageAct is what a form on a submission's page does. It returns the submission to go on to.
type pageAct func(ctx context.Context, s *service.Service, actor review.Actor, id string, sent *sentForm) (service.Done, error)

// pageActs are the forms on a submission's page, by the action that they stand for.
var pageActs = map[review.Action]pageAct{
	review.ActHold: func(ctx context.Context, s *service.Service, actor review.Actor, id string, sent *sentForm) (service.Done, error) {
		return s.Hold(ctx, actor, id, sent.version())
	},
	review.ActEndHold: func(ctx context.Context, s *service.Service, actor review.Actor, id string, sent *sentForm) (service.Done, error) {
		return s.EndHold(ctx, actor, id, sent.version())
	},
	review.ActReply: func(ctx context.Context, s *service.Service, actor review.Actor, id string, sent *sentForm) (service.Done, error) {
		return s.Reply(ctx, actor, id, sent.version(), replyForm(sent))
	},
	review.ActReturn: func(ctx context.Context, s *service.Service, actor review.Actor, id string, sent *sentForm) (service.Done, error) {
		form := review.ReturnForm{Want: review.Want(sent.get("want")), View: sent.get("view"), Text: sent.text("text")}
		return s.Return(ctx, actor, id, sent.version(), form)
	},
	review.ActSettle: func(ctx context.Context, s *service.Service, actor review.Actor, id string, sent *sentForm) (service.Done, error) {
		return s.Settle(ctx, actor, id, sent.version(), sent.text("reason"))
	},
	review.ActUndetermine: func(ctx context.Context, s *service.Service, actor review.Actor, id string, sent *sentForm) (service.Done, error) {
		return s.Undetermine(ctx, actor, id, sent.version(), sent.text("reason"))
	},
	review.ActWithdraw: func(ctx context.Context, s *service.Service, actor review.Actor, id string, sent *sentForm) (service.Done, error) {
		return s.Withdraw(ctx, actor, id, sent.version(), sent.text("reason"))
	},
	review.ActReopen: func(ctx context.Context, s *service.Service, actor review.Actor, id string, sent *sentForm) (service.Done, error) {
		return s.Reopen(ctx, actor, id, sent.version(), sent.text("reason"))
	},
	review.ActAudit: func(ctx context.Context, s *service.Service, actor review.Actor, id string, sent *sentForm) (service.Done, error) {
		return s.Audit(ctx, actor, id, sent.version(), sent.text("reason"))
	},
	review.ActReleaseSlip: func(ctx context.Context, s *service.Service, actor review.Actor, id string, sent *sentForm) (service.Done, error) {
		return s.ReleaseSlip(ctx, actor, id, sent.version(), sent.get("take_back") != "")
	},
	review.ActUphold: func(ctx context.Context, s *service.Service, actor review.Actor, id string, sent *sentForm) (service.Done, error) {
		return s.Uphold(ctx, actor, id, sent.version(), sent.text("reason"))
	},
	review.ActRedetermine: func(ctx context.Context, s *service.Service, actor review.Actor, id string, sent *sentForm) (service.Done, error) {
		form := review.RedetermineForm{Family: sent.text("family"), ScientificName: sent.text("scientific_name"), Qualifier: sent.get("qualifier"), Doubted: review.Rank(sent.get("doubted")), Reason: sent.text("reason")}
		return s.Redetermine(ctx, actor, id, sent.version(), form)
	},
}

func replyForm(sent *sentForm) review.ReplyForm {
	return review.ReplyForm{Kind: judgement.ContradictionKind(sent.get("kind")), Character: sent.get("character"), State: sent.get("state"), Reason: sent.text("reason")}
}

// actOnPage does what a form on a submission's page asks for, or shows the page again with the form as it was typed.
func (s *Server) actOnPage(c *gin.Context, action review.Action, act pageAct) {
	sent, err := s.textForm(c)
	if err != nil {
		s.fail(c, err)
		return
	}
	if action == review.ActSettle && sent.get("sure") == "" && s.mayAskAuthority(c, sent) {
		s.showSubmission(c, http.StatusOK, pages.SubmissionData{Action: action, AskAuthority: true, Form: pages.NewForm(sent.values)})
		return
	}
	var done service.Done
	before, err := s.once(c, sent, func(ctx context.Context) (err error) {
		done, err = act(ctx, s.Service, actorOf(c), c.Param("id"), sent)
		return err
	})
	if err == nil {
		seeOther(c, submissionPath(goesTo(before, cmp.Or(done.ID, c.Param("id")))))
		return
	}
	if !again(err) {
		s.fail(c, err)
		return
	}
	d := pages.SubmissionData{Action: action, Form: pages.NewForm(sent.values).Failed(c.Request.Context(), err, nil), ReplyTo: replyForm(sent)}
	s.showSubmission(c, pageStatus(err), d)
}

// mayAskAuthority says whether a settlement on authority would be taken, so that it is worth a question. What cannot be read
// now is told by the act itself.
func (s *Server) mayAskAuthority(c *gin.Context, sent *sentForm) bool {
	if sent.text("reason") == "" {
		return false
	}
	view, err := s.Service.View(c.Request.Context(), actorOf(c), c.Param("id"))
	return err == nil && view.Version == sent.version() && !view.Submission.HeldByOther(actorOf(c).Person, time.Now()) && slices.Contains(view.Allowed, review.ActSettle) &&
		view.Policy.Expert(view.Submission.Determination.Family, actorOf(c).Person)
}

func (s *Server) historyPage(c *gin.Context) {
	ctx, actor := c.Request.Context(), actorOf(c)
	view, site, err := s.submissionOf(c)
	if err != nil {
		s.fail(c, err)
		return
	}
	history, err := s.Service.HistoryOf(ctx, actor, c.Param("id"))
	if err != nil {
		s.fail(c, err)
		return
	}
	d := pages.HistoryData{Submission: view.Submission.ID, Number: view.Specimen.Label.CatalogueNumber, History: history}
	if d.Number == "" {
		d.Number = words.T(ctx, "common.without-number")
	}
	s.page(c, http.StatusOK, pages.History(site, d))
}

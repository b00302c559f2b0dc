package web

import (
	"context"
	"net/http"
	"strings"

	"github.com/gin-gonic/gin"

	"revidit/review"
	"revidit/review/judgement"
	"revidit/web/pages"
)

// looked is the query of the address that somebody goes on to after a blind look, so that the page can say thank you.
const looked = "?looked="

func blindPath(id string) string { return submissionPath(id) + "/blind" }

func (s *Server) blindPage(c *gin.Context) { s.showBlind(c, http.StatusOK, nil, nil) }

// showBlind shows the question as it is now, with what was typed and what is wrong with it. Where there is nothing to
// look at blind any more, the submission itself is shown.
func (s *Server) showBlind(c *gin.Context, status int, sent *sentForm, failure error) {
	view, err := s.Service.BlindLook(c.Request.Context(), actorOf(c), c.Param("id"))
	if review.KindOf(err) == review.KindConflict {
		seeOther(c, submissionPath(c.Param("id")))
		return
	}
	if err != nil {
		s.fail(c, err)
		return
	}
	site, err := s.siteOf(c, view.Group)
	if err != nil {
		s.fail(c, err)
		return
	}
	form := pages.NewForm(nil)
	if sent != nil {
		form = pages.NewForm(sent.values).Failed(c.Request.Context(), failure, blindNames)
		if !view.Recheck && sent.get("character") != view.Character {
			form.Set("state", "") // it was the answer to another question
		}
	} else if view.Recheck {
		form.Set("answer", "named")
	}
	form.Version = view.Version
	s.page(c, status, pages.Blind(site, pages.BlindData{View: view, Form: form}))
}

// blindNames turns a path of an error into the name of its field.
func blindNames(path string) string {
	if path == "family" {
		return "named"
	}
	return path
}

// answered is the end of a form of somebody who looks blind: on to what is shown now, or the question again.
func (s *Server) answered(c *gin.Context, next string, do func(ctx context.Context, actor review.Actor, id string, sent *sentForm) error) {
	sent, err := s.textForm(c)
	if err != nil {
		s.fail(c, err)
		return
	}
	_, err = s.once(c, sent, func(ctx context.Context) error { return do(ctx, actorOf(c), c.Param("id"), sent) })
	switch {
	case err == nil:
		seeOther(c, submissionPath(c.Param("id"))+next)
	case again(err):
		s.showBlind(c, pageStatus(err), sent, err)
	default:
		s.fail(c, err)
	}
}

func (s *Server) answerBlind(c *gin.Context) {
	s.answered(c, "/review"+looked+"blind", func(ctx context.Context, actor review.Actor, id string, sent *sentForm) error {
		_, err := s.Service.BlindCheck(ctx, actor, id, sent.version(), blindForm(sent))
		return err
	})
}

func blindForm(sent *sentForm) review.BlindForm {
	form := review.BlindForm{State: review.TypedDecimal(sent.text("state")), Kind: review.VerdictKind(sent.get("kind")), Note: sent.text("note")}
	if kind, none := strings.CutPrefix(form.State, pages.NoStatePrefix); none {
		form.State, form.Kind = "", review.VerdictKind(kind)
	}
	return form
}

func (s *Server) answerPanel(c *gin.Context) {
	s.answered(c, looked+"recheck", func(ctx context.Context, actor review.Actor, id string, sent *sentForm) error {
		form, err := panelForm(sent)
		if err == nil {
			_, err = s.Service.PanelOpinion(ctx, actor, id, sent.version(), form)
		}
		return err
	})
}

// panelForm takes what was chosen and what was typed, which must go together.
func panelForm(sent *sentForm) (review.PanelForm, error) {
	form := review.PanelForm{Family: sent.text("named"), Note: sent.text("note")}
	answer := sent.get("answer")
	switch {
	case answer == "named" && form.Family == "":
		return form, review.Invalidf("named", "write a name, or say that it is none of them or that the photos do not tell")
	case answer == "named":
		return form, nil
	case form.Family != "":
		return form, review.Invalidf("answer", "you have named one: choose that, or empty the field")
	case answer == "none":
		form.Family = judgement.NoneOfThese
		return form, nil
	case answer == "untold":
		return form, nil
	}
	return form, review.Invalidf("answer", "choose an answer")
}

func (s *Server) leavePanel(c *gin.Context) {
	s.answered(c, looked+"left", func(ctx context.Context, actor review.Actor, id string, sent *sentForm) error {
		_, err := s.Service.LeavePanel(ctx, actor, id, sent.version())
		return err
	})
}

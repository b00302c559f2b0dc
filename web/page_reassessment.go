package web

import (
	"context"
	"net/http"
	"slices"
	"strconv"
	"strings"

	"github.com/gin-gonic/gin"

	"revidit/review"
	"revidit/review/service"
	"revidit/web/pages"
)

func (s *Server) reassessmentsPage(c *gin.Context) {
	site, err := s.editors(c)
	if err == nil {
		err = knownFile(c)
	}
	if err != nil {
		s.fail(c, err)
		return
	}
	s.showReassessments(c, http.StatusOK, site, pages.NewForm(nil))
}

// showReassessments lists what was asked, with the form of a new question.
func (s *Server) showReassessments(c *gin.Context, status int, site pages.Site, form pages.Form) {
	ctx, actor, group := c.Request.Context(), actorOf(c), site.Book.Group.ID
	d := pages.ReassessmentsData{Form: form}
	var err error
	if d.All, err = s.Service.Reassessments(ctx, actor, group); err != nil {
		s.fail(c, err)
		return
	}
	if status == http.StatusOK && fileAsked(c) {
		s.reassessmentsFile(c, d.All)
		return
	}
	if d.Releases, _, err = s.Service.Releases(ctx, group); err != nil {
		s.fail(c, err)
		return
	}
	d.Releases = slices.DeleteFunc(slices.Clone(d.Releases), func(r review.Release) bool { return r.Hash == site.Book.Hash })
	approved, _, err := s.Service.CellProposals(ctx, actor, group, review.ProposalApproved)
	if err != nil {
		s.fail(c, err)
		return
	}
	if d.Approved = len(approved); d.Approved > 0 && form.Get("release") == "" {
		d.Form.Set("release", service.Approved)
	}
	if d.Policy, err = s.Service.Policy(ctx); err != nil {
		s.fail(c, err)
		return
	}
	s.page(c, status, pages.Reassessments(site, d))
}

// reassess asks what a change would do.
func (s *Server) reassess(c *gin.Context) {
	site, err := s.editors(c)
	if err != nil {
		s.fail(c, err)
		return
	}
	sent, err := s.textForm(c)
	if err != nil {
		s.fail(c, err)
		return
	}
	key := ""
	_, err = s.once(c, sent, func(ctx context.Context) error {
		form, err := typedReassessment(site.Book.Group.ID, sent)
		if err == nil {
			key, err = s.Service.AskReassessment(ctx, actorOf(c), form)
		}
		return err
	})
	switch {
	case err == nil && key != "":
		seeOther(c, tablePath(site.Book, "reassessments", key))
	case err == nil: // sent before
		seeOther(c, tablePath(site.Book, "reassessments"))
	case again(err):
		s.showReassessments(c, pageStatus(err), site, pages.NewForm(sent.values).Failed(c.Request.Context(), err, nil))
	default:
		s.fail(c, err)
	}
}

func typedReassessment(group string, sent *sentForm) (service.ReassessmentForm, error) {
	form := service.ReassessmentForm{Group: group, Release: sent.text("release")}
	var problems review.Problems
	version := func(field string) *int {
		text := sent.text(field)
		if text == "" {
			return nil
		}
		n, err := strconv.Atoi(text)
		if err != nil || n < 0 {
			problems.Addf(field, "must be a version, a whole number from 0 on")
		}
		return &n
	}
	form.Policy, form.Reliability = version("policy"), version("reliability")
	if text := sent.text("confidence"); text != "" {
		p := review.TypedNumber(text)
		if p == nil || !(*p >= 0.5 && *p <= 0.999) {
			problems.Addf("confidence", "must be from 0.5 to 0.999")
			return form, problems.Err()
		}
		form.Confidence = *p
	}
	return form, problems.Err()
}

func (s *Server) reassessmentPage(c *gin.Context) {
	site, err := s.editors(c)
	if err == nil {
		err = knownFile(c)
	}
	if err != nil {
		s.fail(c, err)
		return
	}
	s.showReassessment(c, http.StatusOK, site, pages.NewForm(nil))
}

// showReassessment shows what a change would do, by cause, and the determinations of one group where the address names it.
func (s *Server) showReassessment(c *gin.Context, status int, site pages.Site, form pages.Form) {
	ctx, actor, group := c.Request.Context(), actorOf(c), site.Book.Group.ID
	d := pages.ReassessmentData{Form: form}
	var err error
	if d.Reassessment, err = s.Service.Reassessment(ctx, actor, group, c.Param("key")); err != nil {
		s.fail(c, err)
		return
	}
	if d.Names, err = s.Service.NamesOf(ctx, d.Reassessment); err != nil {
		s.fail(c, err)
		return
	}
	if effect, cause, ok := strings.Cut(c.Query("of"), "/"); ok {
		d.Of = &review.TouchGroup{Effect: review.Touch(effect), Cause: cause}
	}
	if status == http.StatusOK && fileAsked(c) {
		s.touchedFile(c, d.Reassessment, d.Of)
		return
	}
	if d.Of != nil {
		if d.Lines, d.Next, err = s.Service.Touched(ctx, actor, group, d.Key, *d.Of, c.Query("after")); err != nil {
			s.fail(c, err)
			return
		}
	}
	s.page(c, status, pages.Reassessment(site, d))
}

// openReviews opens reviews of what a curator has picked.
func (s *Server) openReviews(c *gin.Context) {
	site, err := s.editors(c)
	if err != nil {
		s.fail(c, err)
		return
	}
	sent, err := s.textForm(c)
	if err != nil {
		s.fail(c, err)
		return
	}
	_, err = s.once(c, sent, func(ctx context.Context) error {
		p := service.Picking{Reason: sent.text("reason"), Submissions: sent.values["submission"]}
		for _, text := range sent.values["picked"] {
			effect, cause, _ := strings.Cut(text, "/")
			p.Groups = append(p.Groups, review.TouchGroup{Effect: review.Touch(effect), Cause: cause})
		}
		return s.Service.OpenReviews(ctx, actorOf(c), site.Book.Group.ID, c.Param("key"), p)
	})
	switch {
	case err == nil:
		seeOther(c, tablePath(site.Book, "reassessments", c.Param("key")))
	case again(err):
		s.showReassessment(c, pageStatus(err), site, pages.NewForm(sent.values).Failed(c.Request.Context(), err, nil))
	default:
		s.fail(c, err)
	}
}

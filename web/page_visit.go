package web

import (
	"context"
	"net/http"
	"strconv"

	"github.com/a-h/templ"
	"github.com/gin-gonic/gin"

	"revidit/review"
	"revidit/review/judgement"
	"revidit/review/service"
	"revidit/web/pages"
)

// visitEnds are where a first visit leads at its end, by role.
var visitEnds = map[review.Role]string{review.RoleMember: beginPath, review.RoleKeeper: beginPath, review.RoleReviewer: "/queue", review.RoleCurator: "/#ledger"}

// goOnVisit leads to the step that somebody has come to.
func (s *Server) goOnVisit(c *gin.Context) {
	v, err := s.Service.Visit(c.Request.Context(), actorOf(c))
	if err != nil {
		s.fail(c, err)
		return
	}
	seeOther(c, pages.VisitURL(max(v.Step, 1)))
}

// moveVisit goes on to a step, or ends the visit: at its end, or where it is not wanted.
func (s *Server) moveVisit(c *gin.Context) {
	sent, err := s.textForm(c)
	if err != nil {
		s.fail(c, err)
		return
	}
	ctx, actor := c.Request.Context(), actorOf(c)
	switch sent.get("do") {
	case pages.VisitEnd:
		if err = s.Service.EndVisit(ctx, actor); err == nil {
			seeOther(c, visitEnds[actor.Role])
			return
		}
	case pages.VisitNever:
		if err = s.Service.EndVisit(ctx, actor); err == nil {
			seeOther(c, "/")
			return
		}
	default:
		step, _ := strconv.Atoi(sent.get("do")) // 0 is refused like any other
		if err = s.Service.GoOnVisit(ctx, actor, step); err == nil {
			seeOther(c, pages.VisitURL(step))
			return
		}
	}
	s.fail(c, err)
}

// visitPage is one step of the first visit.
func (s *Server) visitPage(c *gin.Context) {
	step, err := strconv.Atoi(c.Param("step"))
	if err != nil || step < 1 || step > review.VisitSteps {
		s.fail(c, review.Errorf(review.KindNotFound, "A first visit has no such step."))
		return
	}
	d := pages.VisitData{Step: step}
	if err := s.fillVisit(c, &d); err != nil {
		s.fail(c, err)
		return
	}
	show := func(site pages.Site) templ.Component { return pages.Visit(site, d) }
	if d.Case != nil {
		s.pageOf(c, http.StatusOK, d.Case.View.Submission.Group, func(site pages.Site) templ.Component {
			return show(s.withFormer(c.Request.Context(), site, &d.Case.View.Assessment))
		})
		return
	}
	s.pageOfAll(c, http.StatusOK, show)
}

// fillVisit reads what a step shows.
func (s *Server) fillVisit(c *gin.Context, d *pages.VisitData) (err error) {
	ctx, actor := c.Request.Context(), actorOf(c)
	switch actor.Role {
	case review.RoleCurator:
		return s.curatorsVisit(ctx, actor, d)
	case review.RoleReviewer:
		return s.reviewersVisit(ctx, actor, d)
	}
	if d.Step == review.VisitSteps {
		return nil
	}
	found, err := s.Service.VisitFinished(ctx, actor)
	if err != nil {
		return missingExample(err)
	}
	d.Case = &found
	d.Without, d.With = found.Stating(""), found.Stating(found.Observation.State)
	if state := c.Query("state"); d.Step == 2 && state != "" {
		if err := s.stateOfVisit(ctx, &found, state); err != nil {
			return err
		}
		d.Chosen, d.With = state, found.Stating(state)
	}
	return nil
}

// stateOfVisit refuses a state that the character of a case does not have.
func (s *Server) stateOfVisit(ctx context.Context, found *service.VisitCase, state string) error {
	judge, err := s.Service.Judge(ctx, found.View.Submission.Group)
	if err == nil && judge.CheckState(found.Observation.Character, state) != nil {
		err = review.Errorf(review.KindNotFound, "The character has no such state.")
	}
	return err
}

func (s *Server) reviewersVisit(ctx context.Context, actor review.Actor, d *pages.VisitData) (err error) {
	if d.Step == review.VisitSteps {
		d.Queue, err = s.firstInQueue(ctx, actor)
		return err
	}
	confirmed, disputed, err := s.Service.VisitDisputed(ctx, actor)
	if err != nil {
		return missingExample(err)
	}
	d.Case = &confirmed
	if d.Step == 2 {
		d.Case = &disputed
	}
	d.Without, d.With, err = s.Service.VisitEffect(ctx, *d.Case)
	return err
}

func (s *Server) curatorsVisit(ctx context.Context, actor review.Actor, d *pages.VisitData) error {
	if d.Step == 1 {
		found, err := s.Service.VisitDoubtful(ctx, actor)
		if err != nil {
			return missingExample(err)
		}
		d.Case, d.Contradiction = &found, shownContradiction(found.View.Assessment)
		return nil
	}
	ledger, err := s.Service.Ledger(ctx, actor)
	d.Ledger = &ledger
	return err
}

// shownContradiction is one that speaks of what was seen: what never occurs before what is rare or fits another name better.
func shownContradiction(a judgement.Assessment) judgement.Contradiction {
	for _, kind := range []judgement.ContradictionKind{judgement.Excluded, judgement.Combination, judgement.Incompatible, judgement.Unusual, judgement.BetterFit} {
		for _, c := range a.Contradictions {
			if c.Kind == kind {
				return c
			}
		}
	}
	return a.Contradictions[0]
}

// missingExample lets a step stand without an example, where neither the club nor the tables have one.
func missingExample(err error) error {
	if review.KindOf(err) == review.KindNotFound {
		return nil
	}
	return err
}

package web

import (
	"context"
	"net/http"

	"github.com/a-h/templ"
	"github.com/gin-gonic/gin"

	"revidit/review"
	"revidit/review/service"
	"revidit/web/pages"
)

// homeSize is how many lines each list of the first page has.
const homeSize = 10

func (s *Server) homePage(c *gin.Context) {
	if err := knownFile(c); err != nil {
		s.fail(c, err)
		return
	}
	if fileAsked(c) {
		s.ledgerFile(c)
		return
	}
	ctx, actor := c.Request.Context(), actorOf(c)
	d, err := s.home(ctx, actor)
	if err != nil {
		s.fail(c, err)
		return
	}
	d.AskSecond = actor.Role == review.RoleCurator && !c.GetBool(keySecond)
	s.pageOfAll(c, http.StatusOK, func(site pages.Site) templ.Component { return pages.Home(site, d) })
}

func (s *Server) home(ctx context.Context, actor review.Actor) (pages.HomeData, error) {
	var d pages.HomeData
	for _, status := range []review.Status{review.StatusReturned, review.StatusDraft} {
		lines, err := s.find(ctx, actor, service.SubmissionFilter{Owner: actor.Person, Status: status})
		if err != nil {
			return d, err
		}
		d.Waiting = append(d.Waiting, lines...)
	}
	var err error
	if d.Own, err = s.find(ctx, actor, service.SubmissionFilter{Owner: actor.Person}); err != nil {
		return d, err
	}
	if d.Series, err = s.Service.FindSeries(ctx, actor); err != nil {
		return d, err
	}
	if len(d.Own) == 0 { // whoever has something of their own is not new
		if d.OffersVisit, err = s.Service.OffersVisit(ctx, actor); err != nil {
			return d, err
		}
	}
	if review.May(actor, review.ActReadQueue, "") {
		if d.Queue, err = s.firstInQueue(ctx, actor); err != nil {
			return d, err
		}
		if d.Names, err = s.holders(ctx, d.Queue); err != nil {
			return d, err
		}
	}
	if actor.Role == review.RoleCurator {
		return d, s.overview(ctx, actor, &d)
	}
	return d, nil
}

func (s *Server) find(ctx context.Context, actor review.Actor, f service.SubmissionFilter) ([]service.SubmissionLine, error) {
	lines, _, err := s.Service.Find(ctx, actor, f, service.Page{Size: homeSize})
	return present(lines), err
}

// present is a list that is shown even when it is empty.
func present[T any](list []T) []T {
	if list == nil {
		return []T{}
	}
	return list
}

func (s *Server) firstInQueue(ctx context.Context, actor review.Actor) ([]service.QueueLine, error) {
	lines, _, err := s.Service.Queue(ctx, actor, service.QueueFilter{}, service.Page{Size: homeSize})
	return present(lines), err
}

func (s *Server) overview(ctx context.Context, actor review.Actor, d *pages.HomeData) (err error) {
	ledger, err := s.Service.Ledger(ctx, actor)
	if err != nil {
		return err
	}
	d.Ledger = &ledger
	if d.Counts, err = s.Service.Counts(ctx, actor); err != nil {
		return err
	}
	if d.Recent, err = s.find(ctx, actor, service.SubmissionFilter{}); err != nil {
		return err
	}
	d.Doubtful, err = s.find(ctx, actor, service.SubmissionFilter{Doubtful: true})
	return err
}

package web

import (
	"cmp"
	"context"
	"net/http"
	"net/url"
	"slices"
	"strings"

	"github.com/a-h/templ"
	"github.com/gin-gonic/gin"

	"revidit/review"
	"revidit/review/service"
	"revidit/web/pages"
)

func (s *Server) queuePage(c *gin.Context) {
	family, err := s.todaysName(c.Request.Context(), c.Query("group"), strings.TrimSpace(c.Query("family")))
	if err != nil {
		s.fail(c, err)
		return
	}
	filter := queueFilter(c.Request.URL.Query())
	filter.Family = family
	if err := knownFile(c); err != nil {
		s.fail(c, err)
		return
	}
	if fileAsked(c) {
		s.queueFile(c, filter)
		return
	}
	lines, next, err := s.Service.Queue(c.Request.Context(), actorOf(c), filter, service.Page{Size: listSize, Cursor: c.Query("cursor")})
	if err != nil {
		s.fail(c, err)
		return
	}
	names, err := s.holders(c.Request.Context(), lines)
	if err != nil {
		s.fail(c, err)
		return
	}
	d := pages.QueueData{Filter: filter, Lines: lines, Names: names, Saved: c.Query("saved")}
	d.First, d.Next = pageLinks(c, next)
	s.pageOfAll(c, http.StatusOK, func(site pages.Site) templ.Component { return pages.Queue(site, d) })
}

// queueFilter is how an address narrows the queue.
func queueFilter(query url.Values) service.QueueFilter {
	return service.QueueFilter{Group: query.Get("group"), Family: strings.TrimSpace(query.Get("family")), Trip: strings.TrimSpace(query.Get("trip")),
		Drawer: strings.TrimSpace(query.Get("drawer"))}
}

// sentFilter is the narrowed queue from which a form was opened.
func sentFilter(sent *sentForm) service.QueueFilter {
	query, err := url.ParseQuery(sent.get("queue"))
	if err != nil {
		return service.QueueFilter{} // not written by the page: the whole queue
	}
	return queueFilter(query)
}

// nextPage leads on to what a reviewer is asked next: saved names what they have just saved, past what they pass over.
func (s *Server) nextPage(c *gin.Context) {
	query := c.Request.URL.Query()
	filter, saved, past := queueFilter(query), query.Get("saved"), query.Get("past")
	next, found, err := s.nextInQueue(c.Request.Context(), actorOf(c), filter, cmp.Or(saved, past))
	if err != nil {
		s.fail(c, err)
		return
	}
	if !found {
		seeOther(c, pages.QueueURL(filter, saved))
		return
	}
	seeOther(c, pages.LookURL(next, filter, saved))
}

// nextInQueue is what follows a submission in the queue of somebody, or the first where it is not there. What somebody else
// holds is passed over.
func (s *Server) nextInQueue(ctx context.Context, actor review.Actor, f service.QueueFilter, after string) (service.QueueLine, bool, error) {
	if !review.May(actor, review.ActReadQueue, "") {
		return service.QueueLine{}, false, nil
	}
	lines, _, err := s.Service.Queue(ctx, actor, f, service.Page{Size: aheadSize})
	if err != nil {
		return service.QueueLine{}, false, err
	}
	at := slices.IndexFunc(lines, func(l service.QueueLine) bool { return l.ID == after })
	lines = slices.DeleteFunc(slices.Concat(lines[at+1:], lines[:max(at, 0)]), func(l service.QueueLine) bool {
		return l.HeldBy != "" && l.HeldBy != actor.Person
	})
	if len(lines) == 0 {
		return service.QueueLine{}, false, nil
	}
	return lines[0], true, nil
}

// aheadSize is how far the queue is read for what comes next.
const aheadSize = 10

// holders are the names of those who hold a line of the queue.
func (s *Server) holders(ctx context.Context, lines []service.QueueLine) (map[string]string, error) {
	var ids []string
	for _, l := range lines {
		if l.HeldBy != "" {
			ids = append(ids, l.HeldBy)
		}
	}
	return s.Service.Names(ctx, ids)
}

package stopwatch

import (
	"context"
	"fmt"
	"net/http"
	"net/url"
	"time"

	"revidit/cmd/revidit/collection"
	"revidit/review/service"
)

const (
	fewestRounds = 3
	// enough is how long one page is measured; slow ones get fewer rounds for it.
	enough = 5 * time.Second
	// tooSlow pages are measured once.
	tooSlow = 8 * time.Second
)

// page is a first page as somebody asks for it. path may hang on the site.
type page struct {
	kind, login, path string
}

func (s *Site) pages(family string) []page {
	f := url.QueryEscape(family)
	return []page{
		{"queue", reviewer, "/queue"}, {"queue", otherReviewer, "/queue"}, {"queue", curator, "/queue"}, {"queue", reviewer, "/queue?family=" + f},
		{"list", member, "/submissions"}, {"list", reviewer, "/submissions"}, {"list", member, "/submissions?mine=1"},
		{"list", member, "/submissions?status=confirmed"}, {"list", member, "/submissions?status=open"}, {"list", member, "/submissions?status=returned"},
		{"list", member, "/submissions?status=draft"}, {"list", reviewer, "/submissions?status=withdrawn"}, {"list", member, "/submissions?family=" + f},
		{"list", reviewer, "/submissions?family=" + f}, {"list", curator, "/submissions?doubtful=1"}, {"list", member, "/submissions?doubtful=1&family=" + f},
		{"search", member, "/submissions?q=" + collection.CatalogueNumber(0)}, {"search", reviewer, "/submissions?q=" + collection.CatalogueNumber(0)},
		{"search", member, "/submissions?q=NSM"}, {"search", member, "/submissions?q=" + f}, {"search", member, "/submissions?q=nosuchnumber"},
		{"home", member, "/"}, {"home", reviewer, "/"}, {"home", curator, "/"},
		{"figures", curator, "/figures/agreement"}, {"figures", curator, "/figures/calibration"}, {"figures", curator, "/figures/reliability"},
		{"figures", curator, "/tables/" + s.Moulds.Group() + "/releases"}, {"figures", curator, "/tables/" + s.Moulds.Group() + "/changes"},
	}
}

// Pages measures the first page of every list, the queue, home and the figures, and the pages of one submission, in
// turns on both sites. told is called before each.
func (p Pair) Pages(ctx context.Context, told func(what string)) ([]Line, error) {
	for _, s := range []*Site{p.Small, p.Large} {
		if err := s.logIn(ctx); err != nil {
			return nil, err
		}
	}
	var lines []Line
	family := p.Small.Moulds.CommonFamily()
	small, large := p.Small.pages(family), p.Large.pages(family)
	for _, s := range []struct {
		site *Site
		all  *[]page
	}{{p.Small, &small}, {p.Large, &large}} {
		of, err := s.site.pagesOfOne(ctx)
		if err != nil {
			return nil, err
		}
		*s.all = append(*s.all, of...)
	}
	for i := range small {
		if err := ctx.Err(); err != nil {
			return nil, err
		}
		what := small[i].login + " " + small[i].path
		told(what)
		lines = append(lines, p.page(ctx, small[i], large[i]))
	}
	return lines, nil
}

// pagesOfOne are the pages of an open submission, which a review begins with.
func (s *Site) pagesOfOne(ctx context.Context) ([]page, error) {
	lines, _, err := s.Service.Queue(ctx, s.actors[curator], service.QueueFilter{}, service.Page{Size: 1})
	if err != nil {
		return nil, err
	}
	if len(lines) == 0 {
		return nil, fmt.Errorf("of %d submissions none is open", s.Submissions)
	}
	id := lines[0].ID
	return []page{{"act", curator, "/submissions/" + id}, {"act", curator, "/submissions/" + id + "/review"},
		{"act", curator, "/submissions/" + id + "/history"}, {"act", curator, "/specimens/" + lines[0].Specimen}}, nil
}

// page measures one, after it was asked for once.
func (p Pair) page(ctx context.Context, small, large page) Line {
	line := Line{Kind: small.kind, What: small.login + " " + small.path}
	a, b := p.Small.get(ctx, small.login, small.path), p.Large.get(ctx, large.login, large.path)
	line.SmallBytes, line.LargeBytes = a.bytes, b.bytes
	var smallTimes, largeTimes []time.Duration
	if a.took+b.took > tooSlow {
		smallTimes, largeTimes = append(smallTimes, a.took), append(largeTimes, b.took)
	}
	began := time.Now()
	for p.more(len(smallTimes), time.Since(began), a.took+b.took) {
		if len(smallTimes)%2 == 0 { // neither always comes second
			a, b = p.Small.get(ctx, small.login, small.path), p.Large.get(ctx, large.login, large.path)
		} else {
			b, a = p.Large.get(ctx, large.login, large.path), p.Small.get(ctx, small.login, small.path)
		}
		smallTimes, largeTimes = append(smallTimes, a.took), append(largeTimes, b.took)
	}
	for _, got := range []answer{a, b} {
		if got.status != http.StatusOK {
			line.Fault = fmt.Sprintf("answered %d", got.status)
		}
	}
	line.Rounds, line.Small, line.Large = len(smallTimes), Median(smallTimes), Median(largeTimes)
	return line
}

// more says whether another round is worth it.
func (p Pair) more(rounds int, spent, round time.Duration) bool {
	if rounds >= p.Rounds || rounds > 0 && round > tooSlow {
		return false
	}
	return rounds < fewestRounds || spent < enough
}

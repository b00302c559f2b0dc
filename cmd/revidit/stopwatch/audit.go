package stopwatch

import (
	"cmp"
	"context"
	"fmt"
	"net/http"
	"net/url"
	"slices"
	"sync/atomic"
	"time"

	"revidit/review/judgement"
	"revidit/review/service"
)

// AuditLine is a page of an audit as it was measured on both sites.
type AuditLine struct {
	Line
	// SQL is how long the statements of the page took on the large site, and Over what the page took besides; medians, each
	// for itself.
	SQL, Over time.Duration
}

// WorstOver is the page that takes longest besides its statements, and WorstGrowth the one that grows most.
func WorstOver(lines []AuditLine) AuditLine {
	return slices.MaxFunc(lines, func(a, b AuditLine) int { return cmp.Compare(a.Over, b.Over) })
}

// WorstGrowth is the page that grows most.
func WorstGrowth(lines []AuditLine) AuditLine {
	return slices.MaxFunc(lines, func(a, b AuditLine) int { return cmp.Compare(a.Growth(), b.Growth()) })
}

// auditPages are first pages as a curator asks for them, whom they are of standing in the collection of the site.
func (s *Site) auditPages(ctx context.Context, family string) ([]string, error) {
	releases, err := s.Service.KnownReleases(ctx)
	if err != nil {
		return nil, err
	}
	person, f := url.QueryEscape(s.actors[reviewer].Person), url.QueryEscape(family)
	today, long := time.Now().UTC().Format(time.DateOnly), "from=2000-01-01&to="+time.Now().UTC().Format(time.DateOnly)
	month := "from=" + time.Now().UTC().AddDate(0, -6, 0).Format(time.DateOnly) + "&to=" + time.Now().UTC().AddDate(0, -5, 0).Format(time.DateOnly)
	list := "/submissions?"
	pages := []string{list + "family=" + f, list + "status=confirmed", list + long, list + month, list + "release=" + releases[0].Hash,
		list + "family=" + f + "&" + month, list + "status=undetermined&" + long, list + "family=" + f + "&status=confirmed&release=" + releases[0].Hash,
		list + "person=" + person + "&family=" + f, list + "person=" + person + "&part=disputed&against=excluded", list + "person=" + person + "&against=unusual", list + "person=" + person + "&part=submitted&against=unseen", list + "against=better-fit&family=" + f,
		"/people/" + person, "/search?q=" + f, "/search?q=trip", "/search?q=reviewer", "/search?q=nosuchtext", "/search?q=NSM",
		"/figures/changes", "/figures/changes?to=" + today}
	for _, part := range []string{"determined", "submitted", "confirmed", "disputed", "agrees", "another"} {
		pages = append(pages, list+"person="+person+"&part="+part)
	}
	for _, kind := range judgement.ContradictionKinds {
		pages = append(pages, list+"against="+string(kind))
	}
	for _, which := range service.AllCame {
		pages = append(pages, "/figures/changes?which="+string(which)+"&"+long, "/figures/changes?which="+string(which)+"&"+month)
	}
	return pages, nil
}

// Audit measures the first pages of an audit in turns on both sites.
func (p Pair) Audit(ctx context.Context, told func(what string)) ([]AuditLine, error) {
	var spent atomic.Int64
	for _, s := range []*Site{p.Small, p.Large} {
		if err := s.logIn(ctx); err != nil {
			return nil, err
		}
	}
	if err := p.Large.DB.Clock(func(took time.Duration) { spent.Add(int64(took)) }); err != nil {
		return nil, err
	}
	family := p.Small.Moulds.CommonFamily()
	small, err := p.Small.auditPages(ctx, family)
	if err != nil {
		return nil, err
	}
	large, err := p.Large.auditPages(ctx, family)
	if err != nil {
		return nil, err
	}
	var lines []AuditLine
	for i := range small {
		if err := ctx.Err(); err != nil {
			return nil, err
		}
		told(small[i])
		lines = append(lines, p.auditPage(ctx, small[i], large[i], &spent))
	}
	return lines, nil
}

// auditPage measures one, after it was asked for once.
func (p Pair) auditPage(ctx context.Context, small, large string, spent *atomic.Int64) AuditLine {
	line := AuditLine{Line: Line{Kind: "audit", What: curator + " " + small}}
	a, b := p.Small.get(ctx, curator, small), p.Large.get(ctx, curator, large)
	line.SmallBytes, line.LargeBytes = a.bytes, b.bytes
	var smallTimes, largeTimes, sql, over []time.Duration
	began := time.Now()
	for rounds := 0; p.more(rounds, time.Since(began), a.took+b.took); rounds++ {
		first := rounds%2 == 0 // neither always comes second
		if first {
			a = p.Small.get(ctx, curator, small)
		}
		spent.Store(0)
		b = p.Large.get(ctx, curator, large)
		statements := time.Duration(spent.Load())
		if !first {
			a = p.Small.get(ctx, curator, small)
		}
		smallTimes, largeTimes = append(smallTimes, a.took), append(largeTimes, b.took)
		sql, over = append(sql, statements), append(over, b.took-statements)
	}
	for _, got := range []answer{a, b} {
		if got.status != http.StatusOK {
			line.Fault = fmt.Sprintf("answered %d", got.status)
		}
	}
	line.Rounds, line.Small, line.Large, line.SQL, line.Over = len(smallTimes), Median(smallTimes), Median(largeTimes), Median(sql), Median(over)
	return line
}

package web

import (
	"net/http"
	"strconv"
	"strings"
	"time"

	"github.com/a-h/templ"
	"github.com/gin-gonic/gin"

	"revidit/review"
	"revidit/review/service"
	"revidit/web/pages"
)

func (s *Server) registerReportPages(p *gin.RouterGroup) {
	p.GET("/reports/determinations", s.settledPage)
	p.GET("/reports/year", s.yearPage)
}

// settledPage is what was settled in a period, to be printed: of this year where no days are named.
func (s *Server) settledPage(c *gin.Context) {
	err := knownFile(c)
	var period review.Period
	if err == nil {
		period, err = review.ParsePeriod(c.Query("from"), c.Query("to"))
	}
	if err != nil {
		s.fail(c, err)
		return
	}
	if period.All() {
		today := time.Now().UTC().Truncate(24 * time.Hour)
		period = review.Period{From: time.Date(today.Year(), time.January, 1, 0, 0, 0, 0, time.UTC), Until: today.AddDate(0, 0, 1)}
	}
	by := service.SettledBy(c.DefaultQuery("by", string(service.ByFamily)))
	r, err := s.Service.Settled(c.Request.Context(), actorOf(c), by, period)
	if err != nil {
		s.fail(c, err)
		return
	}
	if fileAsked(c) {
		s.sendTable(c, "determinations", settledColumns, settledRows(r), r.Cut)
		return
	}
	s.pageOfAll(c, http.StatusOK, func(site pages.Site) templ.Component { return pages.Settled(site, r, period) })
}

var settledColumns = []string{"group", "name", "rank", "catalogue_number", "as_given", "determiner", "determined_on", "settled_at", "as", "status", "drawer", "submission", "specimen"}

func settledRows(r service.SettledReport) (rows [][]any) {
	for _, g := range r.Groups {
		for _, l := range g.Lines {
			rows = append(rows, []any{g.Name, l.Stands, string(l.Sure), l.CatalogueNumber, l.Determination.NameAt(review.RankSpecies), l.DeterminerName,
				l.Determination.DeterminedOn, l.SettledAt, string(l.As), string(l.Status), l.Drawer, l.ID, l.Specimen})
		}
	}
	return rows
}

// yearPage is a curator's report on a year, or one of its tables as a file.
func (s *Server) yearPage(c *gin.Context) {
	err := knownFile(c)
	year := 0
	if asked := strings.TrimSpace(c.Query("year")); err == nil && asked != "" {
		if year, err = strconv.Atoi(asked); err != nil || year == 0 {
			err = review.Invalidf("year", "must be a year, such as 2026")
		}
	}
	table, known := yearTables[c.Query("table")]
	if err == nil && fileAsked(c) && !known {
		err = review.Invalidf("table", "must be one of months, families, closed, people")
	}
	if err != nil {
		s.fail(c, err)
		return
	}
	r, err := s.Service.Year(c.Request.Context(), actorOf(c), c.Query("group"), year)
	if err != nil {
		s.fail(c, err)
		return
	}
	if fileAsked(c) {
		s.sendTable(c, strconv.Itoa(r.Year)+"-"+c.Query("table"), table.columns, table.rows(&r), table.cut(&r))
		return
	}
	s.pageOf(c, http.StatusOK, r.Group, func(site pages.Site) templ.Component { return pages.Year(site, r) })
}

// yearTable is a table of a year as a file.
type yearTable struct {
	columns []string
	rows    func(*service.YearReport) [][]any
	cut     func(*service.YearReport) bool
}

var yearTables = map[string]yearTable{
	"months":   {append([]string{"month"}, countNames()...), monthRows, func(*service.YearReport) bool { return false }},
	"families": {[]string{"group", "family", "settled", "new"}, familyRows, func(r *service.YearReport) bool { return r.FamiliesCut }},
	"closed":   {[]string{"group", "specimens", "disputed"}, closedRows, func(r *service.YearReport) bool { return r.Closed.Cut }},
	"people":   {[]string{"name", "role", "people", "observed", "judged", "blind", "few"}, peopleRows, func(r *service.YearReport) bool { return r.Closed.Cut }},
}

func countNames() (names []string) {
	for _, which := range service.YearCounts {
		names = append(names, string(which))
	}
	return names
}

func monthRows(r *service.YearReport) (rows [][]any) {
	for _, m := range r.Months {
		row := []any{m.Month}
		for _, which := range service.YearCounts {
			row = append(row, m.Counts[which])
		}
		rows = append(rows, row)
	}
	return rows
}

func familyRows(r *service.YearReport) (rows [][]any) {
	for _, f := range r.Families {
		rows = append(rows, []any{f.Group, f.Family, f.Settled, f.New})
	}
	return rows
}

func closedRows(r *service.YearReport) [][]any {
	return [][]any{{r.Group, r.Closed.Specimens, r.Closed.Disputed}}
}

// peopleRows leave empty what is not told of few people.
func peopleRows(r *service.YearReport) (rows [][]any) {
	for _, p := range r.People {
		row := []any{r.Names[p.Person], string(p.Role), p.People, p.Observed, p.Judged, p.Blind, p.Few}
		if p.Few {
			row[3], row[4], row[5] = "", "", ""
		}
		rows = append(rows, row)
	}
	return rows
}

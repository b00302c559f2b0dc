package web

import (
	"context"
	"fmt"
	"net/http"
	"net/url"
	"slices"
	"strconv"
	"strings"

	"github.com/a-h/templ"
	"github.com/gin-gonic/gin"

	"revidit/review"
	"revidit/review/service"
	"revidit/web/pages"
)

func (s *Server) registerLabelPages(p *gin.RouterGroup) {
	p.GET("/labels", s.labelsPage)
	p.POST("/labels", s.printLabels)
	p.GET("/labels/:id", s.sheetOfLabels)
	p.GET("/labels/:id/sheet.pdf", s.sheetFile)
}

// labelsPage says what would be printed of a selection, or how one is made; as a file it is the list of the sheets that were printed.
func (s *Server) labelsPage(c *gin.Context) {
	if err := knownFile(c); err != nil {
		s.fail(c, err)
		return
	}
	if fileAsked(c) {
		s.sheetsFile(c)
		return
	}
	s.showLabels(c, http.StatusOK, pages.NewForm(nil))
}

func (s *Server) showLabels(c *gin.Context, status int, form pages.Form) {
	ctx, actor := c.Request.Context(), actorOf(c)
	d := pages.LabelsData{Form: form, Query: c.Request.URL.Query(), Set: service.LabelSet(c.DefaultQuery("set", string(service.SetLocality)))}
	specimens, more, err := s.selected(c)
	if err != nil {
		s.fail(c, err)
		return
	}
	d.More = more
	if len(specimens) > 0 {
		plan, err := s.Service.PlanLabels(ctx, actor, service.LabelAsk{Set: d.Set, Specimens: specimens,
			SheetForm: review.SheetForm{Size: c.Query("size"), Paper: c.Query("paper")}})
		if err != nil {
			s.fail(c, err)
			return
		}
		d.Plan = &plan
	}
	if d.Sheets, d.Names, err = s.Service.Sheets(ctx, actor); err != nil {
		s.fail(c, err)
		return
	}
	s.pageOfAll(c, status, func(site pages.Site) templ.Component { return pages.Labels(site, d) })
}

// selected are the specimens that an address names, or those of the list that it has the filters of, as many as a sheet takes; more
// says that the list has others.
func (s *Server) selected(c *gin.Context) (specimens []string, more bool, err error) {
	add := func(id string) {
		if id != "" && !slices.Contains(specimens, id) {
			specimens = append(specimens, id)
		}
	}
	for _, id := range c.QueryArray("specimen") {
		add(id)
	}
	if c.Query("list") == "" {
		return specimens, false, nil
	}
	read, err := s.listRead(c)
	if err != nil {
		return nil, false, err
	}
	for cursor := ""; ; {
		lines, next, err := read(cursor)
		if err != nil {
			return nil, false, err
		}
		for _, l := range lines {
			add(l.Specimen)
		}
		if len(specimens) >= review.MostLabels || next == "" {
			more = next != "" || len(specimens) > review.MostLabels
			return specimens[:min(len(specimens), review.MostLabels)], more, nil
		}
		cursor = next
	}
}

// listRead reads a page of the list that an address names.
func (s *Server) listRead(c *gin.Context) (func(cursor string) ([]service.SubmissionLine, string, error), error) {
	ctx, actor := c.Request.Context(), actorOf(c)
	switch c.Query("list") {
	case "submissions":
		filter, _, err := s.listFilter(c)
		return func(cursor string) ([]service.SubmissionLine, string, error) {
			return s.Service.Find(ctx, actor, filter, service.Page{Size: filePage, Cursor: cursor})
		}, err
	case "series":
		return func(cursor string) ([]service.SubmissionLine, string, error) {
			return s.Service.Find(ctx, actor, service.SubmissionFilter{Series: c.Query("series")}, service.Page{Size: filePage, Cursor: cursor})
		}, nil
	case "queue":
		filter := service.QueueFilter{Group: c.Query("group"), Family: c.Query("family"), Trip: c.Query("trip"), Drawer: c.Query("drawer")}
		return func(cursor string) ([]service.SubmissionLine, string, error) {
			found, next, err := s.Service.Queue(ctx, actor, filter, service.Page{Size: filePage, Cursor: cursor})
			lines := make([]service.SubmissionLine, 0, len(found))
			for _, l := range found {
				lines = append(lines, l.SubmissionLine)
			}
			return lines, next, err
		}, nil
	}
	return nil, review.Invalidf("list", "must be submissions, queue or series")
}

// printLabels notes what was ticked as printed, and goes to its sheet.
func (s *Server) printLabels(c *gin.Context) {
	sent, err := s.textForm(c)
	if err != nil {
		s.fail(c, err)
		return
	}
	var made review.Sheet
	order, err := labelOrder(sent)
	before := ""
	if err == nil {
		before, err = s.once(c, sent, func(ctx context.Context) (err error) {
			made, err = s.Service.PrintLabels(ctx, actorOf(c), order)
			return err
		})
	}
	switch {
	case err == nil:
		seeOther(c, "/labels/"+url.PathEscape(goesTo(before, made.ID)))
	case again(err):
		s.showLabels(c, pageStatus(err), pages.NewForm(sent.values).Failed(c.Request.Context(), err, func(string) string { return "print" }))
	default:
		s.fail(c, err)
	}
}

// labelOrder is what was ticked. A row of the form is a label, or those of a series that say the same.
func labelOrder(sent *sentForm) (review.SheetOrder, error) {
	order := review.SheetOrder{SheetForm: review.SheetForm{Size: sent.get("size"), Paper: sent.get("paper")}}
	var problems review.Problems
	for _, row := range sent.values["print"] {
		labels, ok := parseRow(sent.get("row." + row))
		if !ok {
			return order, review.Invalidf("print", "is no row of this page; open it again")
		}
		copies, err := strconv.Atoi(strings.TrimSpace(sent.get("copies." + row)))
		if err != nil || copies < len(labels) || copies > review.MostCopies {
			problems.Addf("print", "of a row of %d specimens must have %d to %d copies", len(labels), len(labels), review.MostCopies)
			continue
		}
		labels[0].Copies = copies - len(labels) + 1
		order.Labels = append(order.Labels, labels...)
	}
	return order, problems.Err()
}

// parseRow reads labels with how often each was printed when the page was shown, as LabelRow.Value writes them; false where it is
// none.
func parseRow(text string) ([]review.WantedLabel, bool) {
	var labels []review.WantedLabel
	for _, one := range strings.Fields(text) {
		name, times, _ := strings.Cut(one, "@")
		l, ok := review.ParsePinLabel(name)
		printed, err := strconv.Atoi(times)
		if !ok || err != nil || printed < 0 || len(labels) == review.MostLabels {
			return nil, false
		}
		labels = append(labels, review.WantedLabel{PinLabel: l, Copies: 1, Printed: printed})
	}
	return labels, len(labels) > 0
}

// sheetOfLabels is the page of a sheet that was printed.
func (s *Server) sheetOfLabels(c *gin.Context) {
	v, err := s.Service.Sheet(c.Request.Context(), actorOf(c), c.Param("id"))
	if err != nil {
		s.fail(c, err)
		return
	}
	s.pageOfAll(c, http.StatusOK, func(site pages.Site) templ.Component { return pages.PrintedSheet(site, v) })
}

// sheetFile is the sheet as PDF, in the language of who asks.
func (s *Server) sheetFile(c *gin.Context) {
	s.sendSheet(c, s.fail)
}

func (s *Server) sendSheet(c *gin.Context, fail func(*gin.Context, error)) {
	ctx, actor := c.Request.Context(), actorOf(c)
	v, err := s.Service.Sheet(ctx, actor, c.Param("id"))
	if err != nil {
		fail(c, err)
		return
	}
	file, err := s.Service.SheetFile(ctx, actor, v.ID, pages.SheetWords(ctx, v))
	if err != nil {
		fail(c, err)
		return
	}
	c.Header("Content-Disposition", "attachment; filename="+fmt.Sprintf("labels-%s.pdf", v.At.UTC().Format("2006-01-02-150405")))
	c.Header("Cache-Control", "no-store")
	c.Data(http.StatusOK, "application/pdf", file)
}

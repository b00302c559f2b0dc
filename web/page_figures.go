package web

import (
	"context"
	"net/http"
	"net/url"
	"strconv"

	"github.com/a-h/templ"
	"github.com/gin-gonic/gin"

	"revidit/review"
	"revidit/review/audit"
	"revidit/web/pages"
)

func (s *Server) registerFigurePages(p *gin.RouterGroup) {
	p.GET("/figures", s.figuresPage)
	p.GET("/figures/agreement", s.agreementPage)
	p.POST("/figures/agreement", s.figuresAnew(review.FoundAgreement))
	p.GET("/figures/calibration", s.calibrationPage)
	p.POST("/figures/calibration", s.figuresAnew(review.FoundCalibration))
	p.GET("/figures/work", s.workPage)
	p.GET("/figures/reliability", s.reliabilityPage)
	p.POST("/figures/reliability", s.refit)
}

func (s *Server) figuresPage(c *gin.Context) {
	s.pageOf(c, http.StatusOK, c.Query("group"), func(site pages.Site) templ.Component { return pages.Figures(site) })
}

func (s *Server) agreementPage(c *gin.Context) {
	period, err := review.ParsePeriod(c.Query("from"), c.Query("to"))
	if err != nil {
		s.fail(c, err)
		return
	}
	a, names, err := s.Service.Agreement(c.Request.Context(), actorOf(c), c.Query("group"), period)
	if err != nil {
		s.fail(c, err)
		return
	}
	if fileAsked(c) {
		s.agreementFile(c, a, names)
		return
	}
	s.pageOf(c, http.StatusOK, a.Group, func(site pages.Site) templ.Component { return pages.Agreement(site, a, names, period) })
}

func (s *Server) calibrationPage(c *gin.Context) {
	period, err := review.ParsePeriod(c.Query("from"), c.Query("to"))
	if err != nil {
		s.fail(c, err)
		return
	}
	cal, err := s.Service.Calibration(c.Request.Context(), actorOf(c), c.Query("group"), period)
	if err != nil {
		s.fail(c, err)
		return
	}
	if fileAsked(c) {
		s.calibrationFile(c, cal)
		return
	}
	s.pageOf(c, http.StatusOK, cal.Group, func(site pages.Site) templ.Component { return pages.Calibration(site, cal, period) })
}

// reliabilityPage shows the present snapshot, or that of a version.
func (s *Server) reliabilityPage(c *gin.Context) {
	site, err := s.siteOf(c, c.Query("group"))
	if err != nil {
		s.fail(c, err)
		return
	}
	ctx, actor, group := c.Request.Context(), actorOf(c), site.Book.Group.ID
	present, names, err := s.Service.Reliability(ctx, actor, group)
	if err != nil {
		s.fail(c, err)
		return
	}
	d := pages.ReliabilityData{Latest: present.Version}
	if asked := c.Query("version"); asked != "" {
		version, err := strconv.Atoi(asked)
		if err != nil {
			s.fail(c, review.Invalidf("version", "must be a whole number"))
			return
		}
		if present, names, err = s.Service.ReliabilityAt(ctx, actor, group, version); err != nil {
			s.fail(c, err)
			return
		}
	}
	d.Figures = audit.FiguresOf(present, names, site.Book.Tables)
	if fileAsked(c) {
		s.reliabilityFile(c, d.Figures)
		return
	}
	s.page(c, http.StatusOK, pages.Reliability(site, d))
}

// refit weighs all reports anew and shows the snapshot.
func (s *Server) refit(c *gin.Context) {
	sent, err := s.textForm(c)
	if err != nil {
		s.fail(c, err)
		return
	}
	group := sent.text("group")
	_, err = s.once(c, sent, func(ctx context.Context) error {
		_, err := s.Service.Refit(ctx, actorOf(c), group)
		return err
	})
	if err != nil {
		s.fail(c, err)
		return
	}
	seeOther(c, "/figures/reliability?group="+url.QueryEscape(group))
}

// figuresAnew asks for figures to be made anew and shows those that there are.
func (s *Server) figuresAnew(which review.FoundKind) gin.HandlerFunc {
	return func(c *gin.Context) {
		sent, err := s.textForm(c)
		if err != nil {
			s.fail(c, err)
			return
		}
		group, from, to := sent.text("group"), sent.text("from"), sent.text("to")
		period, err := review.ParsePeriod(from, to)
		if err == nil {
			_, err = s.once(c, sent, func(ctx context.Context) error { return s.Service.FiguresAnew(ctx, actorOf(c), group, period, which) })
		}
		if err != nil {
			s.fail(c, err)
			return
		}
		back := url.Values{"group": {group}}
		if !period.All() {
			back.Set("from", from)
			back.Set("to", to)
		}
		seeOther(c, "/figures/"+string(which)+"?"+back.Encode())
	}
}

func (s *Server) workPage(c *gin.Context) {
	list, err := s.Service.Jobs(c.Request.Context(), actorOf(c))
	if err != nil {
		s.fail(c, err)
		return
	}
	checked, err := s.Service.Checked(c.Request.Context(), actorOf(c))
	if err != nil {
		s.fail(c, err)
		return
	}
	s.pageOf(c, http.StatusOK, c.Query("group"), func(site pages.Site) templ.Component { return pages.Work(site, list, checked) })
}

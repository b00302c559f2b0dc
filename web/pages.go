package web

import (
	"bytes"
	"context"
	"net/http"
	"net/url"
	"strings"
	"time"

	"github.com/a-h/templ"
	"github.com/gin-gonic/gin"

	"revidit/review"
	"revidit/web/pages"
	"revidit/web/static"
	"revidit/web/words"
)

// registerPages adds the HTML pages and the files that they need.
func (s *Server) registerPages(r *gin.Engine) {
	s.problemPage = s.showProblem
	files := gin.WrapH(static.Handler())
	r.GET("/static/:name", files)
	r.HEAD("/static/:name", files)
	r.GET("/login", s.loginPage)
	r.POST("/login", s.login)
	r.POST("/logout", s.logout)
	r.POST("/language", s.chooseLanguage)
	r.GET(pages.UnsubscribePath+":token", s.unsubscribePage)
	r.POST(pages.UnsubscribePath+":token", s.unsubscribe)
	r.GET(pages.ConfirmPath+":token", s.confirmPage)
	r.POST(pages.ConfirmPath+":token", s.confirmAddress)

	s.registerDoors(r)
	s.registerSecond(r)
	s.registerProvider(r)
	s.registerPublic(r)
	r.GET("/", s.frontPage)

	p := r.Group("/", s.needLogin)
	p.GET(keptPath+":id", s.keptPage)
	p.GET("/visit", s.goOnVisit)
	p.GET("/visit/:step", s.visitPage)
	p.POST("/visit", s.moveVisit)
	p.GET("/seeing", s.seeingPage)
	p.GET("/news", s.newsPage)
	p.POST("/news", s.readNews)
	p.GET("/mail", s.mailPage)
	p.POST("/mail", s.chooseMail)
	p.GET("/news/:id", s.followNews)
	p.GET("/queue", s.queuePage)
	p.GET("/queue/next", s.nextPage)
	p.GET("/queue/live", s.queueLive)
	p.GET("/policy", s.policyPage)
	p.POST("/policy", s.setPolicy)
	p.GET("/specimens/:id", s.specimenPage)
	p.GET("/specimens/:id/dossier", s.dossierPage)
	p.GET("/specimens/:id/label", s.relabelPage)
	p.POST("/specimens/:id/label", s.relabel)
	p.POST("/specimens/:id/publication", s.publishPhotos)
	p.POST("/specimens/:id/publication/end", s.unpublishPhotos)
	p.GET("/photos/:id/:size", s.photoBytes)
	p.POST("/photos", s.uploadPhotos)
	s.registerSubmissionPages(p)
	s.registerTablePages(p)
	s.registerFigurePages(p)
	s.registerAuditPages(p)
	s.registerReportPages(p)
	s.registerProofPages(p)
	s.registerPastPages(p)
	s.registerSeriesPages(p)
	s.registerArchivePages(p)
	s.registerInventoryPages(p)
	s.registerLabelPages(p)
	s.registerMachinePages(p)
	s.registerAccountPages(p)
}

func (s *Server) registerTablePages(p *gin.RouterGroup) {
	p.GET("/families", s.formerFamilies)
	p.GET("/families/:name", s.formerFamily)
	p.GET("/pictures/:hash/:character/:state", s.picture)
	p.GET("/plates/:hash/:plate", s.plateImage)
	p.GET("/glossary", s.shortGlossary)
	p.GET("/tables", s.tablesPage)
	p.GET("/tables/:group", s.groupPage)
	p.GET("/tables/:group/sheets/:name", s.sheetPage)
	p.GET("/tables/:group/characters/:id", s.characterPage)
	p.GET("/tables/:group/parts", s.partsPage)
	p.GET("/tables/:group/glossary", s.glossaryPage)
	p.GET("/tables/:group/compare", s.comparePage)
	p.GET("/tables/:group/told", s.toldPage)
	p.GET("/key", s.shortKey)
	p.GET("/tables/:group/key", s.keyPage)
	p.GET("/tables/:group/key/booklet", s.keyBooklet)
	p.GET("/tables/:group/releases", s.releasesPage)
	p.POST("/tables/:group/releases", s.publish)
	p.GET("/tables/:group/releases/new", s.newReleasePage)
	p.GET("/tables/:group/reassessments", s.reassessmentsPage)
	p.POST("/tables/:group/reassessments", s.reassess)
	p.GET("/tables/:group/reassessments/:key", s.reassessmentPage)
	p.POST("/tables/:group/reassessments/:key", s.openReviews)
	p.GET("/tables/:group/changes", s.changesPage)
	p.POST("/tables/:group/changes", s.change)
	p.GET("/tables/:group/changes/new", s.newChangePage)
	p.GET("/tables/:group/changes/:id", s.changePage)
	p.POST("/tables/:group/changes/:id", s.decideChange)
}

func (s *Server) registerSubmissionPages(p *gin.RouterGroup) {
	p.GET("/submissions", s.listPage)
	p.GET("/submissions/new", s.newPage)
	p.POST("/submissions", s.create)
	p.GET("/submissions/tray", s.trayPage)
	p.POST("/submissions/tray", s.beginTray)
	p.GET(beginPath, s.beginPage)
	p.POST(beginPath, s.begin)
	p.GET("/submissions/:id", s.submissionPage)
	p.GET("/submissions/:id/ask", s.askPage)
	p.POST("/submissions/:id/ask", s.answerQuestion)
	p.GET("/submissions/:id/check", s.checkPage)
	p.POST("/submissions/:id/check", s.submitChecked)
	p.GET("/submissions/:id/history", s.historyPage)
	p.GET("/submissions/:id/edit", s.editPage)
	p.POST("/submissions/:id/edit", s.edit)
	p.GET("/submissions/:id/review", s.reviewPage)
	p.POST("/submissions/:id/review", s.saveReview)
	p.GET("/submissions/:id/blind", s.blindPage)
	p.POST("/submissions/:id/blind", s.answerBlind)
	p.POST("/submissions/:id/panel", s.answerPanel)
	p.POST("/submissions/:id/panel/leave", s.leavePanel)
	p.GET("/submissions/:id/answer", s.answerPage)
	p.POST("/submissions/:id/answer", s.answer)
	for action, act := range pageActs {
		p.POST("/submissions/:id/"+string(action), func(c *gin.Context) { s.actOnPage(c, action, act) })
	}
}

// needLogin sends whoever is not logged in to the login page, and back afterwards.
func (s *Server) needLogin(c *gin.Context) {
	if actorOf(c).Person == "" {
		s.askForLogin(c)
		return
	}
	if path := c.Request.URL.Path; s.needsSecond(c) && path != "/account" && !strings.HasPrefix(path, "/account/") {
		c.Redirect(http.StatusSeeOther, "/account")
		c.Abort()
	}
}

func (s *Server) askForLogin(c *gin.Context) {
	next := c.Request.URL.RequestURI()
	if c.Request.Method != http.MethodGet {
		next = s.keepForm(c)
	}
	if c.GetHeader("Accept") == "application/json" { // the script of a form
		c.JSON(http.StatusUnauthorized, savedAnswer{Words: words.T(c.Request.Context(), "submit.login-run-out"), Action: loginPath(next)})
		c.Abort()
		return
	}
	c.Redirect(http.StatusSeeOther, loginPath(next))
	c.Abort()
}

// loginPath is the login page, which leads to an address within this site afterwards.
func loginPath(next string) string {
	address := "/login"
	if localPath(next) != "/" {
		address += "?next=" + url.QueryEscape(next)
	}
	return address
}

// localPath is an address within this site, or "/" where the given one is none: a login page must not send people on
// to somebody else's.
func localPath(address string) string {
	parsed, err := url.Parse(address)
	local := err == nil && parsed.Scheme == "" && parsed.Host == "" && strings.HasPrefix(address, "/") &&
		!strings.HasPrefix(address, "//") && !strings.ContainsAny(address, "\\\r\n\t")
	if !local || strings.HasPrefix(parsed.Path, "//") {
		return "/"
	}
	return address
}

// page renders whole pages before the first byte is sent, so that a fault is an error page and not half a page. A
// request that ran out of time still gets its page, which says so.
func (s *Server) page(c *gin.Context, status int, component templ.Component) {
	var buffer bytes.Buffer
	err := component.Render(context.WithoutCancel(c.Request.Context()), &buffer)
	retryAfter(c, waitOf[status])
	switch {
	case err == nil:
		// On a shared computer the way back shows nothing after a logout, and no page stays in the browser's folder.
		c.Header("Cache-Control", "no-store")
		c.Data(status, "text/html; charset=utf-8", pages.Isolate(buffer.Bytes()))
	case status >= http.StatusInternalServerError:
		// The error page itself has a fault: no page can tell it.
		s.Log.Error("fault", "error", err.Error(), "route", c.FullPath(), "request_id", requestID(c))
		c.String(status, "%s\n", internalError)
	default:
		s.fail(c, err)
	}
}

// pageStatus is the HTTP status of a page that shows an error. A page carries no If-Match, so that a stale version is
// a conflict there.
func pageStatus(err error) int {
	if kind := review.KindOf(err); kind == review.KindStale {
		return http.StatusConflict
	}
	p, _ := problemOf(err)
	return p.Status
}

// again says whether an error belongs on the form that caused it, with everything typed kept.
func again(err error) bool {
	switch review.KindOf(err) {
	case review.KindInvalid, review.KindConflict, review.KindStale, review.KindDown, review.KindFull:
		return true
	}
	return false
}

func seeOther(c *gin.Context, address string) { c.Redirect(http.StatusSeeOther, address) }

func submissionPath(id string) string { return "/submissions/" + url.PathEscape(id) }

// patient is the context of a request that carries many photos over a slow line: it outlasts the usual time, within
// what the connection allows, and ends when the sender has gone.
func patient(c *gin.Context) (context.Context, context.CancelFunc) {
	control := http.NewResponseController(c.Writer)
	until := time.Now().Add(photosTime)
	// A recorder in a test has no connection to set deadlines on, and needs none.
	_ = control.SetReadDeadline(until)
	_ = control.SetWriteDeadline(until.Add(time.Minute))
	sender, ok := c.Value(keySender).(context.Context)
	if !ok {
		sender = c.Request.Context()
	}
	return context.WithDeadline(sender, until)
}

// photosTime is how long a form with photos may take; 24 photos of 32 MB over 10 Mbit/s take ten minutes.
const photosTime = 15 * time.Minute

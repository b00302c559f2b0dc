package web

import (
	"net/http"
	"slices"
	"strings"

	"github.com/gin-gonic/gin"

	"revidit/review"
	"revidit/review/diagnosis"
	"revidit/review/judgement"
	"revidit/review/service"
	"revidit/web/pages"
)

// guideOf is where the owner of a draft stands, with the site of its group.
func (s *Server) guideOf(c *gin.Context) (service.Guide, pages.Site, error) {
	g, err := s.Service.Guide(c.Request.Context(), actorOf(c), c.Param("id"))
	if err != nil {
		return g, pages.Site{}, err
	}
	site, err := s.siteOf(c, g.View.Submission.Group)
	return g, site, err
}

// askPage asks one question: which name is meant where none is known, else the character that the address names; without one it
// leads to the next.
func (s *Server) askPage(c *gin.Context) {
	g, site, err := s.guideOf(c)
	if err != nil {
		s.fail(c, err)
		return
	}
	d := pages.AskData{Guide: g, Form: pages.NewForm(nil)}
	if typed := g.View.Loose["family"]; typed != "" && c.Query("character") == "" {
		d.Book, d.Typed = site.Book, typed
		d.Names, _ = site.Book.Search(typed)
		s.page(c, http.StatusOK, pages.Ask(site, d))
		return
	}
	if c.Query("character") == "" { // the address says what is asked, so that the way back leads to it
		seeOther(c, s.onwards(g, site, review.Step{}))
		return
	}
	if !s.question(&d, site, c.Query("group"), c.Query("character")) {
		s.fail(c, review.Errorf(review.KindNotFound, "There is no such question."))
		return
	}
	d.Lesson, _ = site.Book.Tables.Character(c.Query("lesson"))
	s.showQuestion(c, http.StatusOK, site, d)
}

func checkPath(id string) string { return submissionPath(id) + "/check" }

// question puts the character to ask into d; false where there is none of that name.
func (s *Server) question(d *pages.AskData, site pages.Site, group, character string) bool {
	d.Book = site.Book
	if group != "" && group != site.Book.Group.ID {
		for _, n := range widerQuestions(d.Guide, group) {
			if n.Character == character {
				d.Wider = true
			}
		}
		for _, b := range site.Books {
			if b.Group.ID == group {
				d.Book = b
			}
		}
		if !d.Wider || d.Book.Group.ID != group {
			return false
		}
	}
	var ok bool
	d.Character, ok = d.Book.Tables.Character(character)
	return ok
}

// widerQuestions are those of the wider group, answered or not.
func widerQuestions(g service.Guide, group string) []judgement.Next {
	return slices.DeleteFunc(slices.Clone(g.Wider), func(n judgement.Next) bool { return n.Group != group })
}

// nextQuestion is what to ask next. Who has just said not to know a part is asked the simplest of what tells something instead.
func nextQuestion(g service.Guide, unknown string, t *diagnosis.Tables) (judgement.Next, bool) {
	switch {
	case len(g.First) > 0:
		return g.First[0], true
	case len(g.Next) == 0:
		return judgement.Next{}, false
	case unknown == "":
		return g.Next[0], true
	}
	region := ""
	if c, ok := t.Character(unknown); ok {
		region = c.Region
	}
	simplest, found := g.Next[0], false
	for _, n := range g.Next[:min(len(g.Next), amongSimple)] {
		c, ok := t.Character(n.Character)
		if ok && c.Region != region && (!found || n.Effort < simplest.Effort) {
			simplest, found = n, true
		}
	}
	return simplest, true
}

// amongSimple is how many of the next questions the simplest is chosen from, so that it still tells something.
const amongSimple = 12

// showQuestion fills the form with what stands in the draft, unless it came back with something typed.
func (s *Server) showQuestion(c *gin.Context, status int, site pages.Site, d pages.AskData) {
	if len(d.Form.Values) == 0 && !d.Wider {
		if o, ok := pages.StatedIn(d.Guide.View, d.Character.ID); ok {
			d.Form.Set("sureness", string(o.Sureness))
			d.Form.Set("photo", o.Photo)
			if o.Region != nil {
				for side, x := range map[string]float64{"left": o.Region.X, "top": o.Region.Y, "width": o.Region.W, "height": o.Region.H} {
					d.Form.Set(side, percent(x))
				}
			}
		}
	}
	s.page(c, status, pages.Ask(site, d))
}

// answerQuestion takes one answer and goes on to the next question.
func (s *Server) answerQuestion(c *gin.Context) {
	sent, err := s.textForm(c)
	if err != nil {
		s.fail(c, err)
		return
	}
	if _, named := sent.values["family"]; named {
		s.answerName(c, sent)
		return
	}
	step, said := stepOf(sent, c.Query("group"), c.Query("character"))
	if said {
		_, err = s.Service.Tell(c.Request.Context(), actorOf(c), c.Param("id"), step)
	}
	if err != nil && !again(err) {
		s.fail(c, err)
		return
	}
	g, site, guideErr := s.guideOf(c)
	if guideErr != nil {
		s.fail(c, guideErr)
		return
	}
	d := pages.AskData{Guide: g, Form: pages.NewForm(sent.values)}
	if err != nil || !said {
		if !s.question(&d, site, step.Group, step.Character) {
			s.fail(c, review.Errorf(review.KindNotFound, "There is no such question."))
			return
		}
		status := http.StatusOK
		if err != nil {
			d.Form, status = d.Form.Failed(c.Request.Context(), err, lastOfPath), pageStatus(err)
		}
		s.showQuestion(c, status, site, d)
		return
	}
	seeOther(c, s.onwards(g, site, step))
}

// lastOfPath is the field of a question that a path of an error is about.
func lastOfPath(path string) string { return path[strings.LastIndex(path, ".")+1:] }

// onwards is the address to go on to after an answer.
func (s *Server) onwards(g service.Guide, site pages.Site, step review.Step) string {
	id, unknown := g.View.Submission.ID, ""
	if step.Why == review.UnseenNotKnown && step.Group == "" {
		unknown = step.Character
	}
	next, ok := nextQuestion(g, unknown, site.Book.Tables)
	if !ok {
		return checkPath(id)
	}
	address := string(pages.AskURL(id, next.Group, next.Character))
	if unknown != "" {
		address += "&lesson=" + unknown
	}
	return address
}

// stepOf is what the buttons of a question say; false where only something else on the page was sent.
func stepOf(sent *sentForm, group, character string) (review.Step, bool) {
	step := review.Step{Group: group, Character: character}
	answer := sent.get("answer")
	if state, ok := strings.CutPrefix(answer, pages.AnswerState); ok {
		step.State = state
	} else if why, ok := strings.CutPrefix(answer, pages.AnswerWhy); ok {
		step.Why = review.WhyUnseen(why)
		return step, true
	} else if answer == pages.AnswerNumber {
		step.State = review.TypedDecimal(sent.text("number"))
	} else {
		return step, answer == pages.AnswerBack
	}
	if group == "" {
		step.Sureness, step.Photo = review.Sureness(sent.text("sureness")), sent.text("photo")
		step.Region = regionOf(sent.text("left"), sent.text("top"), sent.text("width"), sent.text("height"))
	}
	return step, true
}

// answerName takes the name that was meant in place of one that is none.
func (s *Server) answerName(c *gin.Context, sent *sentForm) {
	if err := s.Service.Rename(c.Request.Context(), actorOf(c), c.Param("id"), sent.text("family")); err != nil {
		s.fail(c, err)
		return
	}
	seeOther(c, string(pages.AskURL(c.Param("id"), "", "")))
}

// checkPage looks a draft over before it goes to reviewers.
func (s *Server) checkPage(c *gin.Context) {
	g, site, err := s.guideOf(c)
	if err != nil {
		s.fail(c, err)
		return
	}
	d := pages.CheckData{Guide: g, Form: pages.NewForm(nil)}
	d.Form.Set("label.catalogue_number", g.View.Specimen.Label.CatalogueNumber)
	s.page(c, http.StatusOK, pages.Check(site, d))
}

// submitChecked puts a draft before reviewers whose owner has looked it over.
func (s *Server) submitChecked(c *gin.Context) {
	sent, err := s.textForm(c)
	if err != nil {
		s.fail(c, err)
		return
	}
	id := c.Param("id")
	view, err := s.Service.View(c.Request.Context(), actorOf(c), id)
	if err != nil {
		s.fail(c, err)
		return
	}
	if view.Submission.Owner == actorOf(c).Person && !view.Submission.Closed() && view.Submission.Status != review.StatusDraft {
		seeOther(c, submissionPath(id)) // by a double click
		return
	}
	revision := review.Revision{}
	if number, given := sent.values["label.catalogue_number"]; given && !view.LabelElsewhere() && len(number) > 0 {
		label := view.Specimen.Label
		label.CatalogueNumber = sent.text("label.catalogue_number")
		revision.Label = &label
	}
	_, err = s.Service.ReviseAndSubmit(c.Request.Context(), actorOf(c), id, sent.version(), revision)
	if err == nil {
		seeOther(c, submissionPath(id))
		return
	}
	if !again(err) {
		s.fail(c, err)
		return
	}
	g, site, guideErr := s.guideOf(c)
	if guideErr != nil {
		s.fail(c, guideErr)
		return
	}
	d := pages.CheckData{Guide: g, Form: pages.NewForm(sent.values).Failed(c.Request.Context(), err, nil)}
	s.page(c, pageStatus(err), pages.Check(site, d))
}

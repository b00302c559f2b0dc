package web

import (
	"context"
	"net/http"
	"strings"

	"github.com/gin-gonic/gin"
	"github.com/google/uuid"

	"revidit/review"
	"revidit/review/service"
	"revidit/web/pages"
	"revidit/web/words"
)

const beginPath = "/submissions/begin"

// beginPage is where a submission begins, or, with a draft in the address, where its photos and its name are changed.
func (s *Server) beginPage(c *gin.Context) {
	if id := c.Query("draft"); id != "" {
		s.beginAgain(c, id)
		return
	}
	site, err := s.siteOf(c, c.Query("group"))
	if err != nil {
		s.fail(c, err)
		return
	}
	if c.Query("group") == "" && len(site.Books) > 1 {
		s.page(c, http.StatusOK, pages.ChooseGroup(site, beginPath))
		return
	}
	d := pages.BeginData{Form: pages.NewForm(nil), Photos: pages.PhotoFields{Offer: true}, Key: uuid.NewString()}
	s.showBegin(c, http.StatusOK, site, d)
}

func (s *Server) beginAgain(c *gin.Context, id string) {
	g, err := s.Service.Guide(c.Request.Context(), actorOf(c), id)
	if err != nil {
		s.fail(c, err)
		return
	}
	site, err := s.siteOf(c, g.View.Submission.Group)
	if err != nil {
		s.fail(c, err)
		return
	}
	form, kept := typedDraft(g.View)
	if typed := g.View.Loose["family"]; typed != "" {
		form.Set("family", typed)
	}
	d := pages.BeginData{Form: form, Draft: id, Registered: g.View.LabelElsewhere(), Photos: pages.PhotoFields{Kept: kept, Offer: !g.View.LabelElsewhere()}}
	s.showBegin(c, http.StatusOK, site, d)
}

// showBegin offers the label of the last submission, too.
func (s *Server) showBegin(c *gin.Context, status int, site pages.Site, d pages.BeginData) {
	if d.Draft == "" {
		lines, _, err := s.Service.Find(c.Request.Context(), actorOf(c), service.SubmissionFilter{Owner: actorOf(c).Person}, service.Page{Size: 1})
		if err != nil {
			s.fail(c, err)
			return
		}
		if len(lines) > 0 {
			d.Last, d.LastNumber = lines[0].ID, lines[0].CatalogueNumber
		}
	}
	s.page(c, status, pages.Begin(site, d))
}

// begin stores what has been typed so far as a draft, and goes on to the questions.
func (s *Server) begin(c *gin.Context) {
	ctx, cancel := patient(c)
	defer cancel()
	c.Request = c.Request.WithContext(ctx)
	sent, err := s.photoForm(c, true)
	if err != nil {
		s.fail(c, err)
		return
	}
	site, err := s.siteOf(c, sent.get("group"))
	if err != nil {
		s.fail(c, err)
		return
	}
	sent.dropLeftOut()
	sent.takeOffers()
	id, err := s.storeBeginning(ctx, c, site, sent)
	switch {
	case err != nil && !again(err):
		s.fail(c, err)
	case sent.get("do") == "save":
		s.saved(c, id, err)
	case err != nil || len(sent.photos.Refused) > 0:
		d := pages.BeginData{Form: pages.NewForm(sent.values), Photos: sent.photos, Key: sent.get("key"), Draft: id}
		if err == nil {
			err = refusedPhotos(sent)
			d.Form = d.Form.Failed(c.Request.Context(), err, nil)
			d.Form.Message = words.T(c.Request.Context(), "submit.saved-without-photos")
		} else {
			d.Form = d.Form.Failed(c.Request.Context(), err, nil)
		}
		s.showBegin(c, pageStatus(err), site, d)
	case sent.get("do") == "upload":
		seeOther(c, beginPath+"?draft="+id)
	default:
		seeOther(c, string(pages.AskURL(id, "", "")))
	}
}

// storeBeginning makes the draft, or changes the one that the form has made before: its name, number and photos.
func (s *Server) storeBeginning(ctx context.Context, c *gin.Context, site pages.Site, sent *sentForm) (id string, err error) {
	judge, err := s.Service.Judge(ctx, site.Book.Group.ID)
	if err != nil {
		return "", err
	}
	if id = sent.get("draft"); id == "" {
		if err := s.copyLabel(ctx, c, sent); err != nil {
			return "", err
		}
		form, err := sifted(judge, site.Book, sent)
		if err != nil {
			return "", err
		}
		made, err := s.Service.Draft(ctx, actorOf(c), form, sent.get("key"))
		if review.KindOf(err) != review.KindConflict {
			return made.ID, err
		}
		known, unknown := s.Service.MadeUnder(ctx, actorOf(c), sent.get("key"))
		if unknown != nil || known.Status != review.StatusDraft {
			return "", err
		}
		id = known.ID
	}
	form, err := sifted(judge, site.Book, sent)
	if err != nil {
		return id, err
	}
	return id, s.Service.BeginAgain(ctx, actorOf(c), id, form, sent.text("label.catalogue_number"))
}

// copyLabel puts the label of another submission of the same owner into a form, where the owner has asked for it: what is of that one
// specimen alone is left out, and what is typed stays.
func (s *Server) copyLabel(ctx context.Context, c *gin.Context, sent *sentForm) error {
	from := sent.get("copy")
	if from == "" {
		return nil
	}
	view, err := s.Service.View(ctx, actorOf(c), from)
	if err != nil {
		return err
	}
	if view.Specimen.Owner != actorOf(c).Person {
		return review.Invalidf("copy", "only the label of a specimen of your own can be copied")
	}
	label := view.Specimen.Label
	label.CatalogueNumber, label.Sex, label.Count, label.MissingParts = "", "", 0, ""
	for _, field := range review.LabelFields() {
		if text := field.Text(&label, &view.Withheld); text != "" && sent.text(field.Path()) == "" {
			sent.put(field.Path(), text)
		}
	}
	return nil
}

// savedAnswer is what the script of a form hears when it has saved by itself.
type savedAnswer struct {
	Draft   string `json:"draft"`
	Version int    `json:"version"`
	Action  string `json:"action"` // where the form goes from now on
	Words   string `json:"words"`  // what to say
	Stands  string `json:"stands"` // what the draft says of its name now
}

// saved answers the script of a form.
func (s *Server) saved(c *gin.Context, id string, err error) {
	if err != nil {
		p := s.problem(c, err)
		words := []string{p.Detail}
		for _, field := range p.Errors {
			words = append(words, field.Message)
		}
		c.JSON(p.Status, savedAnswer{Words: strings.Join(words, " ")})
		return
	}
	g, err := s.Service.Guide(c.Request.Context(), actorOf(c), id)
	if err != nil {
		s.saved(c, "", err)
		return
	}
	site, err := s.siteOf(c, g.View.Submission.Group)
	if err != nil {
		s.saved(c, "", err)
		return
	}
	c.JSON(http.StatusOK, savedAnswer{Draft: id, Version: g.View.Version, Action: submissionPath(id) + "/edit", Words: words.T(c.Request.Context(), "submit.saved"),
		Stands: pages.Stands(c.Request.Context(), site.Book, g)})
}

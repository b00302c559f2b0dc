package web

import (
	"context"
	"net/http"
	"slices"

	"github.com/gin-gonic/gin"

	"revidit/review"
	"revidit/review/service"
	"revidit/web/pages"
)

func (s *Server) newReleasePage(c *gin.Context) {
	site, err := s.editors(c)
	if err != nil {
		s.fail(c, err)
		return
	}
	s.showRelease(c, http.StatusOK, site, pages.NewForm(nil))
}

// showRelease shows what the approved changes would do together. Where they do not fit together, it says why.
func (s *Server) showRelease(c *gin.Context, status int, site pages.Site, form pages.Form) {
	ctx, actor, group := c.Request.Context(), actorOf(c), site.Book.Group.ID
	approved, names, err := s.Service.CellProposals(ctx, actor, group, review.ProposalApproved)
	if err != nil {
		s.fail(c, err)
		return
	}
	slices.Reverse(approved) // the first proposed first, as they are taken in
	d := pages.NewReleaseData{Approved: approved, Names: names, Form: form}
	if len(approved) > 0 {
		effect, _, err := s.Service.PreviewRelease(ctx, actor, group)
		switch {
		case err == nil:
			d.Effect = &effect
		case review.KindOf(err) != review.KindInvalid:
			s.fail(c, err)
			return
		case form.Message == "":
			status, d.Form = pageStatus(err), form.Failed(c.Request.Context(), err, nil)
		}
	}
	s.page(c, status, pages.NewRelease(site, d))
}

// publish makes the next release, of just those changes that the curator has seen.
func (s *Server) publish(c *gin.Context) {
	site, err := s.editors(c)
	if err != nil {
		s.fail(c, err)
		return
	}
	sent, err := s.textForm(c)
	if err != nil {
		s.fail(c, err)
		return
	}
	_, err = s.once(c, sent, func(ctx context.Context) error {
		if err := s.asSeen(c, site.Book, sent); err != nil {
			return err
		}
		next := service.NextRelease{Group: site.Book.Group.ID, Version: sent.text("version"), Notes: sent.text("notes"), Base: site.Book.Hash}
		_, err := s.Service.Publish(ctx, actorOf(c), next)
		return err
	})
	if err == nil {
		seeOther(c, tablePath(site.Book, "releases"))
		return
	}
	if !again(err) {
		s.fail(c, err)
		return
	}
	s.showRelease(c, pageStatus(err), site, pages.NewForm(sent.values).Failed(c.Request.Context(), err, nil))
}

// asSeen is an error where the tables, or the changes that would go into the release, are not those that the page
// showed.
func (s *Server) asSeen(c *gin.Context, book pages.Book, sent *sentForm) error {
	approved, _, err := s.Service.CellProposals(c.Request.Context(), actorOf(c), book.Group.ID, review.ProposalApproved)
	if err != nil {
		return err
	}
	same := len(approved) == len(sent.values["seen"]) && sent.get("hash") == book.Hash
	for _, p := range approved {
		same = same && slices.Contains(sent.values["seen"], p.ID)
	}
	if !same {
		return review.Errorf(review.KindStale, "The approved changes or the tables are no longer those that you have seen. Nothing was published, and what you typed is still here: look at the list as it is now and publish again.")
	}
	return nil
}

package web

import (
	"context"
	"net/http"
	"slices"

	"github.com/gin-gonic/gin"

	"revidit/review"
	"revidit/review/diagnosis"
	"revidit/web/pages"
)

func (s *Server) changesPage(c *gin.Context) {
	site, err := s.editors(c)
	if err == nil {
		err = knownFile(c)
	}
	if err != nil {
		s.fail(c, err)
		return
	}
	d := pages.ChangesData{Status: review.ProposalStatus(c.Query("status"))}
	d.Proposals, d.Names, err = s.Service.CellProposals(c.Request.Context(), actorOf(c), site.Book.Group.ID, d.Status)
	if err != nil {
		s.fail(c, err)
		return
	}
	if fileAsked(c) {
		s.proposalsFile(c, d.Proposals, d.Names)
		return
	}
	s.page(c, http.StatusOK, pages.Changes(site, d))
}

func (s *Server) changePage(c *gin.Context) {
	s.showChange(c, http.StatusOK, pages.NewForm(nil))
}

// showChange shows a proposed change as it is now; form is the decision that comes back, if any.
func (s *Server) showChange(c *gin.Context, status int, form pages.Form) {
	site, proposal, names, err := s.proposal(c)
	if err != nil {
		s.fail(c, err)
		return
	}
	form.Version = proposal.Seq
	d := pages.ChangeData{Proposal: proposal, Names: names, Form: form}
	if d.Alone, err = s.Service.OnlyCurator(c.Request.Context(), actorOf(c)); err != nil {
		s.fail(c, err)
		return
	}
	if place, ok := placeOf(site.Book, proposal.Edit); ok {
		d.Place = &place
		if d.Before, _, err = s.written(c, site.Book, place); err != nil {
			s.fail(c, err)
			return
		}
	}
	if proposal.Status == review.ProposalOpen || proposal.Status == review.ProposalApproved {
		if err := s.addEffect(c, site.Book, &d); err != nil {
			s.fail(c, err)
			return
		}
	}
	s.page(c, status, pages.Change(site, d))
}

// addEffect computes what a change would do. The tables may have changed since it was proposed, so that it does not fit
// any more; that is told on the page.
func (s *Server) addEffect(c *gin.Context, book pages.Book, d *pages.ChangeData) error {
	effect, err := s.Service.PreviewCell(c.Request.Context(), actorOf(c), book.Group.ID, d.Proposal.Edit)
	if review.KindOf(err) == review.KindInvalid {
		d.Unfit = pages.NewForm(nil).Failed(c.Request.Context(), err, nil)
		return nil
	}
	d.Effect = &effect
	return err
}

// proposal is the proposed change of the address, which must be of its group.
func (s *Server) proposal(c *gin.Context) (pages.Site, review.CellProposal, map[string]string, error) {
	site, err := s.editors(c)
	if err != nil {
		return site, review.CellProposal{}, nil, err
	}
	proposal, names, err := s.Service.CellProposal(c.Request.Context(), actorOf(c), c.Param("id"))
	if err == nil && proposal.Group != site.Book.Group.ID {
		err = review.Errorf(review.KindNotFound, "These tables have no such proposal.")
	}
	return site, proposal, names, err
}

func (s *Server) decideChange(c *gin.Context) {
	site, proposal, _, err := s.proposal(c)
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
		_, err := s.Service.DecideCell(ctx, actorOf(c), proposal.ID, sent.version(), review.ProposalStatus(sent.get("status")), sent.text("reason"))
		return err
	})
	if err == nil {
		seeOther(c, tablePath(site.Book, "changes", proposal.ID))
		return
	}
	if !again(err) {
		s.fail(c, err)
		return
	}
	s.showChange(c, pageStatus(err), pages.NewForm(sent.values).Failed(c.Request.Context(), err, nil))
}

// placeOf finds the cell of an edit in the tables in force.
func placeOf(book pages.Book, edit diagnosis.CellEdit) (pages.CellPlace, bool) {
	family, ok := book.Family(edit.Family)
	if !ok {
		return pages.CellPlace{}, false
	}
	character, ok := book.Tables.Character(edit.Character)
	if !ok {
		return pages.CellPlace{}, false
	}
	known := edit.Form == "" || slices.ContainsFunc(family.Forms, func(f diagnosis.Form) bool { return f.ID == edit.Form })
	return pages.CellPlace{Family: family, Form: edit.Form, Character: character}, known
}

// written is a cell as its file has it; false where it has none.
func (s *Server) written(c *gin.Context, book pages.Book, place pages.CellPlace) (diagnosis.CellEdit, bool, error) {
	folder, err := s.Service.Folder(c.Request.Context(), book.Group.ID, "")
	if err != nil {
		return diagnosis.CellEdit{}, false, err
	}
	return diagnosis.Written(folder, place.Family.Name, place.Form, place.Character.ID)
}

// typedRow is a row of the form of a cell: the state, and how often it occurs as a word or a number.
func (f *sentForm) typedRow(i int) (state, word, number string) {
	part := func(name string) string { return f.text(pages.RowField(i, name)) }
	return part("state"), part("word"), part("number")
}

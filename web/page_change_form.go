package web

import (
	"context"
	"errors"
	"net/http"
	"regexp"
	"slices"
	"strings"

	"github.com/gin-gonic/gin"

	"revidit/review"
	"revidit/review/diagnosis"
	"revidit/web/pages"
)

// newChangePage is the form that changes a cell, or asks which cell is meant.
func (s *Server) newChangePage(c *gin.Context) {
	site, err := s.editors(c)
	if err != nil {
		s.fail(c, err)
		return
	}
	edit := diagnosis.CellEdit{Family: c.Query("family"), Form: c.Query("form"), Character: c.Query("character")}
	if edit.Family == "" || edit.Character == "" {
		form := pages.NewForm(map[string][]string{"family": {edit.Family}, "character": {edit.Character}})
		s.page(c, http.StatusOK, pages.ChooseCell(site, form))
		return
	}
	place, ok := placeOf(site.Book, edit)
	if !ok {
		s.fail(c, review.Errorf(review.KindNotFound, "The tables in force have no such cell."))
		return
	}
	d := pages.NewChangeData{Place: place}
	present, exists, err := s.written(c, site.Book, place)
	if err == nil && !exists && place.Form != "" {
		// A form without a cell of its own shows what the whole family shows.
		own := pages.CellPlace{Family: place.Family, Character: place.Character}
		present, _, err = s.written(c, site.Book, own)
	}
	if err != nil {
		s.fail(c, err)
		return
	}
	d.Exists, d.Form = exists, pages.TypedCell(place.Character, present)
	s.page(c, http.StatusOK, pages.NewChange(site, d))
}

// change shows what a change of a cell would do, or proposes it.
func (s *Server) change(c *gin.Context) {
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
	place, ok := placeOf(site.Book, diagnosis.CellEdit{Family: sent.get("family"), Form: sent.get("form"), Character: sent.get("character")})
	if !ok {
		s.fail(c, review.Errorf(review.KindNotFound, "The tables in force have no such cell. Nothing was stored."))
		return
	}
	d := pages.NewChangeData{Place: place, Form: pages.NewForm(sent.values)}
	if _, d.Exists, err = s.written(c, site.Book, place); err != nil {
		s.fail(c, err)
		return
	}
	id, err := s.previewOrPropose(c, site.Book, sent, &d)
	switch {
	case err == nil && id != "":
		seeOther(c, tablePath(site.Book, "changes", id))
	case err == nil:
		s.page(c, http.StatusOK, pages.NewChange(site, d))
	case again(err):
		d.Form = d.Form.Failed(c.Request.Context(), withoutFiles(err, place.Family.Name), nil)
		s.page(c, pageStatus(err), pages.NewChange(site, d))
	default:
		s.fail(c, err)
	}
}

// previewOrPropose returns the id of the proposal that it has made, or "" after a preview.
func (s *Server) previewOrPropose(c *gin.Context, book pages.Book, sent *sentForm, d *pages.NewChangeData) (string, error) {
	edit, err := cellEdit(sent, d.Place)
	if err != nil {
		return "", err
	}
	ctx, actor, group := c.Request.Context(), actorOf(c), book.Group.ID
	if sent.get("do") != "propose" {
		effect, err := s.Service.PreviewCell(ctx, actor, group, edit)
		if err == nil {
			d.Effect = &effect
		}
		return "", err
	}
	id := ""
	before, err := s.once(c, sent, func(ctx context.Context) (err error) {
		id, err = s.propose(ctx, actor, book, sent, edit)
		return err
	})
	return goesTo(before, id), err
}

func (s *Server) propose(ctx context.Context, actor review.Actor, book pages.Book, sent *sentForm, edit diagnosis.CellEdit) (string, error) {
	if sent.get("hash") != book.Hash {
		return "", review.Errorf(review.KindStale, "A new release of these tables was published since you opened the form. Nothing was stored, and what you typed is still here: compare it with the tables as they are now and propose it again.")
	}
	made, err := s.Service.ProposeCell(ctx, actor, book.Group.ID, edit, sent.text("reason"))
	return made.ID, err
}

// cellEdit is the change that was typed, with every field that cannot be read as a problem.
func cellEdit(f *sentForm, place pages.CellPlace) (diagnosis.CellEdit, error) {
	var problems review.Problems
	edit := diagnosis.CellEdit{Family: place.Family.Name, Form: place.Form, Character: place.Character.ID, Note: oneLine(f.text("note")),
		Citation: diagnosis.Citation{Source: f.text("source"), Place: oneLine(f.text("place")), Basis: diagnosis.Basis(f.text("basis"))}}
	if place.Character.Kind == diagnosis.KindLength {
		edit.Length = typedLength(f, &problems)
		return edit, problems.Err()
	}
	for i := range pages.MaxRows(place.Character) {
		state, word, number := f.typedRow(i)
		field := pages.RowField(i, "word")
		frequency := typedFrequency(&problems, field, word, number)
		switch {
		case state == "" && frequency != "":
			problems.Addf(field, "of which number or range?")
		case frequency != "":
			edit.States = append(edit.States, diagnosis.StateWord{State: state, Word: frequency})
		}
	}
	rest := typedFrequency(&problems, pages.RestField("word"), f.text(pages.RestField("word")), f.text(pages.RestField("number")))
	if rest != "" {
		edit.States = append(edit.States, diagnosis.StateWord{State: pages.Rest, Word: rest})
	}
	if len(edit.States) == 0 && len(problems) == 0 {
		problems.Addf("edit", "say of at least one state how often it occurs")
	}
	return edit, problems.Err()
}

// inFile is where a problem of the tables stands: people who change a cell in a form see no file.
var inFile = regexp.MustCompile(`^families/([^/]+)\.yaml(?::\d+)?: `)

// withoutFiles names the family in place of its file in problems of the tables, and leaves it out where it is the one
// that is being changed.
func withoutFiles(err error, family string) error {
	var e *review.Error
	if !errors.As(err, &e) {
		return err
	}
	shown := &review.Error{Kind: e.Kind, Message: e.Message, Fields: slices.Clone(e.Fields)}
	for i, f := range shown.Fields {
		if at := inFile.FindStringSubmatch(f.Message); at != nil {
			shown.Fields[i].Message = strings.TrimPrefix(f.Message, at[0])
			if at[1] != family {
				shown.Fields[i].Message = at[1] + ": " + shown.Fields[i].Message
			}
		}
	}
	return shown
}

// oneLine joins the lines of a text: the tables keep a note as one.
func oneLine(text string) string { return strings.Join(strings.Fields(text), " ") }

// typedFrequency is a word, or the number beside it.
func typedFrequency(problems *review.Problems, field, word, number string) string {
	number = review.TypedDecimal(number)
	switch {
	case word == pages.NumberWord && number == "":
		problems.Addf(field, "type the share, from 0 to 1")
	case word != "" && word != pages.NumberWord && number != "":
		problems.Addf(field, "choose a word or type a share, not both")
	case word == "" || word == pages.NumberWord:
		if x := review.TypedNumber(number); x != nil && (*x < 0 || *x > 1) {
			problems.Addf(field, "must be a number from 0 to 1")
		}
		return number
	}
	return word
}

func typedLength(f *sentForm, problems *review.Problems) *diagnosis.Length {
	millimetres := func(field string) float64 {
		x := review.TypedNumber(f.text(field))
		if x == nil || *x == review.Unreadable || *x <= 0 {
			problems.Addf(field, "must be a number of millimetres above 0")
			return 0
		}
		return *x
	}
	return &diagnosis.Length{Min: millimetres("length.min"), Max: millimetres("length.max"),
		Usual: [2]float64{millimetres("length.usual_min"), millimetres("length.usual_max")}}
}

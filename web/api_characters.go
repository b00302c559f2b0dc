package web

import (
	"cmp"
	"context"
	"crypto/sha256"
	"encoding/hex"
	"net/http"
	"slices"
	"strings"

	"github.com/danielgtaylor/huma/v2"

	"revidit/review"
	"revidit/review/diagnosis"
)

type characterInput struct {
	Caller
	OfGroup
	ID string `path:"id" maxLength:"60"`
}

type characterOutput struct {
	Body struct {
		Tables    TablesView    `json:"tables"`
		Character CharacterView `json:"character"`
		States    []Showing     `json:"states" nullable:"false" doc:"Families by each state, in the order of the states; empty for a length"`
		Lengths   []Measured    `json:"lengths" nullable:"false" doc:"Families and forms by their length, the smallest first; empty where the character is none"`
		Unknown   []string      `json:"unknown" nullable:"false" doc:"Families for which the tables leave the character out, in part or whole"`
	}
}

// Showing are the families that show a state.
type Showing struct {
	State    string        `json:"state"`
	Families []FamilyShare `json:"families" nullable:"false" doc:"The largest share first"`
}

// FamilyShare is how much of a family shows a state.
type FamilyShare struct {
	Family string  `json:"family"`
	P      float64 `json:"p" doc:"Share over all forms by weight, 0 to 1"`
}

// Measured is how long a family, or a form that differs from it, is.
type Measured struct {
	Family string     `json:"family"`
	Form   string     `json:"form,omitempty" doc:"Id of the form; empty: the family"`
	Length LengthView `json:"length"`
}

type pictureInput struct {
	Caller
	Conditions
	OfGroup
	Character string `path:"character" maxLength:"60"`
	File      string `path:"file" maxLength:"64" doc:"Id of the state, or counting for a worked count, with .svg"`
}

type pictureOutput struct {
	Status  int
	ETag    string `header:"ETag"`
	Type    string `header:"Content-Type"`
	Content string `header:"Content-Security-Policy"`
	Body    []byte
}

func (a *api) registerCharacters() {
	const tag = "knowledge"
	huma.Register(a.doors, operation(http.MethodGet, "/characters/{id}", "character", tag, "A character, and the families by its states",
		http.StatusNotFound), a.character)
	picture := reading("/pictures/{character}/{file}", "picture", tag, "Drawing of a state or of a worked count", http.StatusNotFound)
	picture.Responses["200"] = binaryResponse("image/svg+xml")
	huma.Register(a.doors, picture, a.picture)
}

// binaryResponse describes an answer that is no JSON.
func binaryResponse(media string) *huma.Response {
	return &huma.Response{Description: http.StatusText(http.StatusOK), Content: map[string]*huma.MediaType{
		media: {Schema: &huma.Schema{Type: huma.TypeString, Format: "binary"}}}}
}

func (a *api) character(ctx context.Context, in *characterInput) (*characterOutput, error) {
	t, err := a.tables(ctx, in.Group)
	if err != nil {
		return nil, err
	}
	c, ok := t.Character(in.ID)
	if !ok {
		return nil, review.Errorf(review.KindNotFound, "%q is not a character of these tables.", in.ID)
	}
	out := &characterOutput{}
	out.Body.Tables, out.Body.Character = tablesView(t), characterView(c)
	out.Body.States, out.Body.Lengths, out.Body.Unknown = []Showing{}, []Measured{}, []string{}
	for i := range c.States {
		out.Body.States = append(out.Body.States, showing(t, c, i))
	}
	for i := range t.Families {
		f := &t.Families[i]
		if !knows(f, c.ID) {
			out.Body.Unknown = append(out.Body.Unknown, f.Name)
		}
		if c.Kind == diagnosis.KindLength {
			out.Body.Lengths = append(out.Body.Lengths, measured(f, c.ID)...)
		}
	}
	slices.SortStableFunc(out.Body.Lengths, func(x, y Measured) int { return cmp.Compare(x.Length.UsualMin, y.Length.UsualMin) })
	return out, nil
}

// knows says whether every form of a family has a cell for the character.
func knows(f *diagnosis.Family, character string) bool {
	return !slices.ContainsFunc(f.Forms, func(form diagnosis.Form) bool { return form.Cells[character] == nil })
}

func showing(t *diagnosis.Tables, c *diagnosis.Character, state int) Showing {
	s := Showing{State: c.States[state].ID, Families: []FamilyShare{}}
	for i := range t.Families {
		if p, known := t.Families[i].Share(c.ID, state); known && p > 0 {
			s.Families = append(s.Families, FamilyShare{Family: t.Families[i].Name, P: p})
		}
	}
	slices.SortStableFunc(s.Families, func(x, y FamilyShare) int { return cmp.Compare(y.P, x.P) })
	return s
}

func measured(f *diagnosis.Family, character string) []Measured {
	var found []Measured
	own := f.Cells[character]
	if own != nil {
		found = append(found, Measured{Family: f.Name, Length: lengthView(own.Length)})
	}
	for _, form := range f.Forms {
		if cell := form.Cells[character]; cell != nil && cell != own {
			found = append(found, Measured{Family: f.Name, Form: form.ID, Length: lengthView(cell.Length)})
		}
	}
	return found
}

// picture sends a drawing. It may come from another club's tables: opened by itself, it can load and run nothing.
func (a *api) picture(ctx context.Context, in *pictureInput) (*pictureOutput, error) {
	t, err := a.tables(ctx, in.Group)
	if err != nil {
		return nil, err
	}
	state, named := strings.CutSuffix(in.File, ".svg")
	svg, ok := t.Picture(in.Character, state)
	if !named || !ok {
		return nil, review.Errorf(review.KindNotFound, "These tables have no such drawing.")
	}
	sum := sha256.Sum256([]byte(svg))
	tag := entityTag{opaque: hex.EncodeToString(sum[:16])}
	status, err := in.reading(tag)
	return &pictureOutput{Status: status, ETag: tag.String(), Type: "image/svg+xml", Content: "default-src 'none'; sandbox", Body: []byte(svg)}, err
}

package web

import (
	"context"
	"net/http"

	"github.com/danielgtaylor/huma/v2"

	"revidit/review/diagnosis"
)

type partsOutput struct {
	Body struct {
		Tables TablesView  `json:"tables"`
		Plates []PlateView `json:"plates" nullable:"false" doc:"Drawings of a whole animal or of a detail; empty where the tables have none"`
		Parts  []PartView  `json:"parts" nullable:"false" doc:"In the order of the tables"`
		Terms  []TermView  `json:"terms" nullable:"false" doc:"Words of the trade that are no parts of the body"`
	}
}

// PlateView is a drawing on which parts lie.
type PlateView struct {
	ID    string     `json:"id"`
	Title string     `json:"title"`
	View  string     `json:"view" doc:"Id of the photo view that looks the same way"`
	Box   [4]float64 `json:"box" doc:"Coordinates of the drawing: left, top, width, height"`
}

// PartView is a part of the body.
type PartView struct {
	ID         string      `json:"id"`
	Name       string      `json:"name" doc:"In plain words"`
	Term       string      `json:"term" doc:"As the trade says it"`
	Definition string      `json:"definition"`
	Within     string      `json:"within,omitempty" doc:"Id of the part that it belongs to"`
	Places     []PlaceView `json:"places" nullable:"false"`
	Characters []string    `json:"characters" nullable:"false" doc:"Ids of the characters that are looked for on it"`
	Source     string      `json:"source,omitempty" doc:"Id of the work that the definition follows; left out: from memory"`
	Place      string      `json:"place,omitempty" doc:"Place in that work"`
}

// PlaceView is where a part lies on a plate.
type PlaceView struct {
	Plate string      `json:"plate"`
	At    *[2]float64 `json:"at,omitempty" doc:"Where the line of its label ends, in coordinates of the drawing; left out where it has no label"`
}

// TermView is a word of the trade.
type TermView struct {
	ID         string              `json:"id"`
	Term       string              `json:"term"`
	Name       string              `json:"name,omitempty" doc:"In plain words"`
	Definition string              `json:"definition"`
	States     map[string][]string `json:"states,omitempty" doc:"Ids of the states that it is the word for, by character id"`
	Parts      []string            `json:"parts,omitempty" doc:"Ids of the parts that it is said of"`
	See        []string            `json:"see,omitempty" doc:"Ids of other terms or parts"`
	Source     string              `json:"source,omitempty"`
	Place      string              `json:"place,omitempty"`
}

func (a *api) registerParts() {
	huma.Register(a.doors, operation(http.MethodGet, "/parts", "parts", "knowledge", "Parts of the body and words of the trade, with what is asked of them",
		http.StatusNotFound), a.parts)
}

func (a *api) parts(ctx context.Context, in *groupInput) (*partsOutput, error) {
	t, err := a.tables(ctx, in.Group)
	if err != nil {
		return nil, err
	}
	out := &partsOutput{}
	out.Body.Tables, out.Body.Plates, out.Body.Parts, out.Body.Terms = tablesView(t), []PlateView{}, []PartView{}, []TermView{}
	for _, p := range t.Plates {
		out.Body.Plates = append(out.Body.Plates, PlateView{ID: p.ID, Title: p.Title, View: p.View, Box: p.Box})
	}
	for _, p := range t.Parts {
		out.Body.Parts = append(out.Body.Parts, partView(t, p))
	}
	for _, term := range t.Terms {
		out.Body.Terms = append(out.Body.Terms, termView(term))
	}
	return out, nil
}

func partView(t *diagnosis.Tables, p diagnosis.Part) PartView {
	v := PartView{ID: p.ID, Name: p.Name, Term: p.Term, Definition: p.Definition, Within: p.Within, Places: []PlaceView{}, Characters: []string{},
		Source: p.Source, Place: p.SourcePlace}
	for _, place := range p.Places {
		view := PlaceView{Plate: place.Plate}
		if place.Labelled {
			view.At = &[2]float64{place.X, place.Y}
		}
		v.Places = append(v.Places, view)
	}
	for _, c := range t.AskedOf(p.ID) {
		v.Characters = append(v.Characters, c.ID)
	}
	return v
}

func termView(term diagnosis.Term) TermView {
	v := TermView{ID: term.ID, Term: term.Term, Name: term.Name, Definition: term.Definition, Parts: term.Parts, See: term.See,
		Source: term.Source, Place: term.SourcePlace}
	for _, s := range term.Shown {
		if v.States == nil {
			v.States = map[string][]string{}
		}
		v.States[s.Character] = s.States
	}
	return v
}

package web

import (
	"context"
	"net/http"

	"github.com/danielgtaylor/huma/v2"

	"revidit/review"
	"revidit/review/diagnosis"
)

// InGroup names a group of tables. It is exported because huma looks into exported parts only.
type InGroup struct {
	Group string `path:"group" maxLength:"60" doc:"Id of the group"`
}

// CellForm replaces one cell of a family, or of one of its forms, or adds it where it is missing.
type CellForm struct {
	Family    string      `json:"family" minLength:"1" maxLength:"60" doc:"Accepted name"`
	Form      string      `json:"form,omitempty" maxLength:"60" doc:"Id of the form that the cell is of; empty: the family's own"`
	Character string      `json:"character" minLength:"1" maxLength:"60"`
	States    []StateWord `json:"states,omitempty" nullable:"false" maxItems:"300" doc:"For named states and counts, in the order in which they are to stand"`
	Length    *LengthView `json:"length,omitempty" doc:"For a length"`
	Source    string      `json:"source,omitempty" maxLength:"60" doc:"Id of a source; empty: the family's own"`
	Place     string      `json:"place,omitempty" maxLength:"200" doc:"Chapter, section or page; empty: the family's own"`
	Basis     string      `json:"basis,omitempty" enum:",read,read-in-part,memory" doc:"Read for this cell, for a part of it that the note names, or cited from memory; empty: as the family's own"`
	Note      string      `json:"note,omitempty" maxLength:"2000"`
}

// StateWord says how often a state occurs.
type StateWord struct {
	State string `json:"state" minLength:"1" maxLength:"60" doc:"State id, number, range such as 7-9, or rest"`
	Word  string `json:"word" minLength:"1" maxLength:"20" doc:"always, usually, often, sometimes, rarely, never, or a number as text"`
}

// ChangeView is a proposed change of one cell.
type ChangeView struct {
	review.CellProposal
	Edit          CellForm `json:"edit"`
	ByName        string   `json:"by_name"`
	DecidedByName string   `json:"decided_by_name,omitempty"`
}

type previewInput struct {
	Caller
	InGroup
	Body struct {
		Edit CellForm `json:"edit"`
	}
}

type effectOutput struct{ Body review.Effect }

type proposeInput struct {
	Caller
	Keyed
	InGroup
	Body struct {
		Edit   CellForm `json:"edit"`
		Reason string   `json:"reason" minLength:"1" maxLength:"2000"`
	}
}

type changesInput struct {
	Caller
	InGroup
	Status string `query:"status" enum:"open,approved,refused,withdrawn,released"`
}

type changesOutput struct {
	Body struct {
		Items []ChangeView `json:"items" nullable:"false"`
	}
}

// OnChange is a request about one proposed change.
type OnChange struct {
	Caller
	Conditions
	InGroup
	ID string `path:"id" maxLength:"60"`
}

type changeOutput struct {
	Status   int
	ETag     string `header:"ETag"`
	Location string `header:"Location"`
	Body     ChangeView
}

type decideInput struct {
	OnChange
	Keyed
	Body struct {
		Status string `json:"status" enum:"approved,refused,withdrawn"`
		Reason string `json:"reason" minLength:"1" maxLength:"2000"`
	}
}

// registerChanges adds how curators change the tables: one proposes a cell, another decides.
func (a *api) registerChanges() {
	const at, tag = "/groups/{group}/changes", "tables"
	body := []int{http.StatusForbidden, http.StatusNotFound, http.StatusRequestEntityTooLarge, http.StatusUnsupportedMediaType}
	huma.Register(a.doors, operation(http.MethodPost, at+"/preview", "preview-change", tag,
		"What a change of one cell would do to the determinations that stand; nothing is stored", body...), a.previewChange)
	propose := operation(http.MethodPost, at, "propose-change", tag, "Propose a change of one cell, for another curator to decide",
		append(body, http.StatusConflict)...)
	propose.DefaultStatus = http.StatusCreated
	changes[proposeInput](a, propose, a.proposeChange, func(ctx context.Context, in *proposeInput, made string) (*changeOutput, error) {
		return a.changeProposed(ctx, in.actor, in.Group, made)
	})
	huma.Register(a.doors, operation(http.MethodGet, at, "changes", tag, "Proposed changes, the latest first", http.StatusForbidden,
		http.StatusNotFound), a.changes)
	huma.Register(a.doors, reading(at+"/{id}", "change", tag, "A proposed change", http.StatusForbidden, http.StatusNotFound), a.change)
	changes[decideInput](a, operation(http.MethodPost, at+"/{id}/decision", "decide-change", tag,
		"Approve or refuse another curator's change, or withdraw one's own; the only curator of a club approves their own, and it is marked", append(body, http.StatusConflict, http.StatusPreconditionFailed)...), a.decideChange,
		func(ctx context.Context, in *decideInput, _ string) (*changeOutput, error) {
			return a.changeNow(ctx, in.actor, in.Group, in.ID)
		})
}

func (a *api) previewChange(ctx context.Context, in *previewInput) (*effectOutput, error) {
	effect, err := a.Service.PreviewCell(ctx, in.actor, in.Group, in.Body.Edit.edit())
	return &effectOutput{Body: a.teller(ctx).EffectInWords(ctx, effect)}, err
}

func (a *api) proposeChange(ctx context.Context, in *proposeInput) (*changeOutput, error) {
	made, err := a.Service.ProposeCell(ctx, in.actor, in.Group, in.Body.Edit.edit(), in.Body.Reason)
	if err != nil {
		return nil, err
	}
	return a.changeProposed(ctx, in.actor, in.Group, made.ID)
}

// changeProposed answers 201 with a change that has just been proposed.
func (a *api) changeProposed(ctx context.Context, actor review.Actor, group, id string) (*changeOutput, error) {
	out, err := a.changeNow(ctx, actor, group, id)
	if err != nil {
		return nil, err
	}
	out.Status, out.Location = http.StatusCreated, apiPrefix+"/groups/"+out.Body.Group+"/changes/"+id
	return out, nil
}

func (a *api) changes(ctx context.Context, in *changesInput) (*changesOutput, error) {
	proposals, names, err := a.Service.CellProposals(ctx, in.actor, in.Group, review.ProposalStatus(in.Status))
	if err != nil {
		return nil, err
	}
	if _, err := a.tables(ctx, in.Group); err != nil {
		return nil, err
	}
	out := &changesOutput{}
	out.Body.Items = changeViews(proposals, names)
	return out, nil
}

func (a *api) change(ctx context.Context, in *OnChange) (*changeOutput, error) {
	out, err := a.changeNow(ctx, in.actor, in.Group, in.ID)
	if err != nil {
		return nil, err
	}
	out.Status, err = in.reading(versionTag(out.Body.Seq))
	return out, err
}

func (a *api) decideChange(ctx context.Context, in *decideInput) (*changeOutput, error) {
	present, err := a.changeNow(ctx, in.actor, in.Group, in.ID)
	if err != nil {
		return nil, err
	}
	seq := present.Body.Seq
	version, err := in.version(func() (int, []entityTag, error) { return seq, []entityTag{versionTag(seq)}, nil })
	if err != nil {
		return nil, err
	}
	if _, err := a.Service.DecideCell(ctx, in.actor, in.ID, version, review.ProposalStatus(in.Body.Status), in.Body.Reason); err != nil {
		return nil, err
	}
	return a.changeNow(ctx, in.actor, in.Group, in.ID)
}

// changeNow answers 200 with a proposed change of the group.
func (a *api) changeNow(ctx context.Context, actor review.Actor, group, id string) (*changeOutput, error) {
	p, names, err := a.Service.CellProposal(ctx, actor, id)
	if err != nil {
		return nil, err
	}
	if p.Group != group {
		return nil, review.Errorf(review.KindNotFound, "The tables of %s have no proposed change %s.", group, id)
	}
	return &changeOutput{Status: http.StatusOK, ETag: versionTag(p.Seq).String(), Body: changeView(p, names)}, nil
}

func changeViews(proposals []review.CellProposal, names map[string]string) []ChangeView {
	views := []ChangeView{}
	for _, p := range proposals {
		views = append(views, changeView(p, names))
	}
	return views
}

func changeView(p review.CellProposal, names map[string]string) ChangeView {
	return ChangeView{CellProposal: p, Edit: cellForm(p.Edit), ByName: names[p.By], DecidedByName: names[p.DecidedBy]}
}

func (f CellForm) edit() diagnosis.CellEdit {
	edit := diagnosis.CellEdit{Family: f.Family, Form: f.Form, Character: f.Character, Note: f.Note,
		Citation: diagnosis.Citation{Source: f.Source, Place: f.Place, Basis: diagnosis.Basis(f.Basis)}}
	for _, s := range f.States {
		edit.States = append(edit.States, diagnosis.StateWord(s))
	}
	if l := f.Length; l != nil {
		edit.Length = &diagnosis.Length{Min: l.Min, Max: l.Max, Usual: [2]float64{l.UsualMin, l.UsualMax}}
	}
	return edit
}

func cellForm(e diagnosis.CellEdit) CellForm {
	f := CellForm{Family: e.Family, Form: e.Form, Character: e.Character, Source: e.Citation.Source, Place: e.Citation.Place,
		Basis: string(e.Citation.Basis), Note: e.Note}
	for _, s := range e.States {
		f.States = append(f.States, StateWord(s))
	}
	if e.Length != nil {
		length := lengthView(*e.Length)
		f.Length = &length
	}
	return f
}

package web

import (
	"context"
	"net/http"

	"github.com/danielgtaylor/huma/v2"

	"revidit/review"
	"revidit/review/audit"
	"revidit/review/service"
)

type searchesOutput struct {
	Body struct {
		Items []review.SavedSearch `json:"items" nullable:"false"`
	}
}

type saveSearchInput struct {
	Caller
	Body struct {
		Name  string `json:"name" minLength:"1" maxLength:"80"`
		Query string `json:"query" maxLength:"1000" doc:"What stands behind the question mark of the list's address"`
	}
}

type savedSearchOutput struct {
	Status int
	Body   review.SavedSearch
}

type searchInput struct {
	Caller
	ID string `path:"id" maxLength:"60"`
}

type ofPersonInput struct {
	Caller
	OfGroup
	ID string `path:"id" maxLength:"60"`
}

type ofPersonOutput struct {
	Body struct {
		service.PersonView
		Reliability *audit.PersonFigures `json:"reliability,omitempty" doc:"Of the group; left out where the policy shows the caller totals alone, or where nothing is known"`
	}
}

type cameInput struct {
	Caller
	Paging
	InPeriod
	Which string `query:"which" required:"true" enum:"settled,changed,came,reopened,went"`
}

type cameOutput struct {
	Body struct {
		Items  []service.ChangeLine `json:"items" nullable:"false"`
		Next   string               `json:"next" doc:"Cursor of the next page; empty at the end"`
		Counts service.CameCounts   `json:"counts" doc:"How often each came about; 1001 stands for any number above 1000"`
	}
}

func (a *api) registerAudit() {
	const tag = "audit"
	huma.Register(a.doors, operation(http.MethodGet, "/searches", "saved-searches", tag, "The caller's saved searches, the oldest first"), a.searches)
	save := operation(http.MethodPost, "/searches", "save-search", tag, "Save a search of the list of submissions, for the caller alone", http.StatusConflict)
	save.DefaultStatus = http.StatusCreated
	huma.Register(a.doors, save, a.saveSearch)
	huma.Register(a.doors, operation(http.MethodDelete, "/searches/{id}", "remove-search", tag, "Remove one of the caller's saved searches", http.StatusNotFound), a.removeSearch)
	person := operation(http.MethodGet, "/people/{id}", "person", tag, "What a person has determined and said, to curators and to the person", http.StatusForbidden, http.StatusNotFound)
	person.Description = "The lists behind the counts are those of find-submissions, by determiner, or by judge and said. What is said of others' submissions counts once they are closed."
	huma.Register(a.doors, person, a.person)
	changed := operation(http.MethodGet, "/collection/changes", "collection-changes", tag, "How the collection at the end of a period differs from what it was at its beginning, the latest first", http.StatusForbidden)
	changed.Description = "From the events: what was settled, determined anew, came before reviewers, was reopened or taken back. Each difference is told once; what was undone meanwhile is none."
	huma.Register(a.doors, changed, a.changedIn)
}

func (a *api) searches(ctx context.Context, in *Caller) (*searchesOutput, error) {
	found, err := a.Service.SavedSearches(ctx, in.actor)
	out := &searchesOutput{}
	out.Body.Items = found
	return out, err
}

func (a *api) saveSearch(ctx context.Context, in *saveSearchInput) (*savedSearchOutput, error) {
	saved, err := a.Service.SaveSearch(ctx, in.actor, in.Body.Name, in.Body.Query)
	return &savedSearchOutput{Status: http.StatusCreated, Body: saved}, err
}

func (a *api) removeSearch(ctx context.Context, in *searchInput) (*struct{}, error) {
	return nil, a.Service.RemoveSearch(ctx, in.actor, in.ID)
}

func (a *api) person(ctx context.Context, in *ofPersonInput) (*ofPersonOutput, error) {
	out := &ofPersonOutput{}
	var err error
	if out.Body.PersonView, err = a.Service.Person(ctx, in.actor, in.ID); err != nil {
		return nil, err
	}
	r, names, shown, err := a.Service.PersonReliability(ctx, in.actor, in.Group, in.ID)
	if err != nil || !shown {
		return out, err
	}
	tables, err := a.tables(ctx, r.Group)
	if err != nil {
		return nil, err
	}
	if f := audit.FiguresOf(r, names, tables); len(f.People) > 0 {
		out.Body.Reliability = &f.People[0]
	}
	return out, nil
}

func (a *api) changedIn(ctx context.Context, in *cameInput) (*cameOutput, error) {
	period, err := in.period()
	if err != nil {
		return nil, err
	}
	out := &cameOutput{}
	if out.Body.Items, out.Body.Next, err = a.Service.Changes(ctx, in.actor, service.Came(in.Which), period, in.page()); err != nil {
		return nil, err
	}
	out.Body.Counts, err = a.Service.CountChanges(ctx, in.actor, period)
	return out, err
}

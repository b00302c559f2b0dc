package web

import (
	"context"
	"net/http"

	"github.com/danielgtaylor/huma/v2"

	"revidit/review/service"
)

type ledgerOutput struct {
	Body struct {
		service.Ledger
		Proposals []ChangeView `json:"proposals" nullable:"false" doc:"Proposed changes of the tables that the caller may decide on, the first proposed first"`
	}
}

func (a *api) registerLedger() {
	o := operation(http.MethodGet, "/ledger", "ledger", "figures", "What waits for a curator's decision, and why", http.StatusForbidden)
	o.Description = "Each list holds the first ten; more_… says whether there are others. People are named by plain rules: reads-below, of a member of whom at least 50 reports were weighed and of a region whose whole " +
		"interval of 2.58 standard errors lies below what members begin with (by name only where the policy says so, else counted in unnamed); left-held, of holds that ran out 14 days ago or longer while the submission stayed open; " +
		"disabled, of an account that is disabled while submissions of the person are open or returned."
	huma.Register(a.doors, o, a.ledger)
}

func (a *api) ledger(ctx context.Context, in *callerInput) (*ledgerOutput, error) {
	l, err := a.Service.Ledger(ctx, in.actor)
	if err != nil {
		return nil, err
	}
	by := a.teller(ctx)
	for i := range l.Doubts {
		for j, doubted := range l.Doubts[i].List {
			l.Doubts[i].List[j] = by.AffectedInWords(ctx, doubted)
		}
	}
	out := &ledgerOutput{}
	out.Body.Ledger, out.Body.Proposals = l, changeViews(l.Proposals, l.Names)
	return out, nil
}

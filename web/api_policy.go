package web

import (
	"cmp"
	"context"
	"net/http"

	"github.com/danielgtaylor/huma/v2"

	"revidit/review"
	"revidit/web/pages"
)

// OnPolicy is a request about the policy.
type OnPolicy struct {
	Caller
	Conditions
}

type policyOutput struct {
	Status int
	ETag   string `header:"ETag"`
	Body   review.Policy
}

type setPolicyInput struct {
	OnPolicy
	Keyed
	// Every field is required: one left out would weaken the policy without a word.
	Body struct {
		Reviewers           int                     `json:"reviewers" minimum:"0" maximum:"10" doc:"How many independent reviewers must agree, from 1; with one_suffices how many do in place of that one, 0: no number does"`
		OneSuffices         bool                    `json:"one_suffices" required:"false" doc:"One reviewer who agrees is enough where the policy names them for the family, or where they had the specimen in hand. Left out: false"`
		Confidence          float64                 `json:"confidence" minimum:"0.5" maximum:"0.999" doc:"Least posterior probability of the family"`
		ExcludedNeedsReason bool                    `json:"excluded_needs_reason" doc:"An excluded contradiction passes only with a written reply"`
		Experts             map[string][]string     `json:"experts" doc:"Families that settle only with one of the persons named, by id"`
		HoldMinutes         int                     `json:"hold_minutes" minimum:"5" maximum:"1440"`
		HoldsAtOnce         int                     `json:"holds_at_once" minimum:"1" maximum:"50" doc:"How many submissions one person may hold at once"`
		BlindRate           float64                 `json:"blind_rate" minimum:"0" maximum:"0.5" doc:"Probability that a reviewer looks at one character of a submission blind before anything else of it is shown"`
		RecheckRate         float64                 `json:"recheck_rate" minimum:"0" maximum:"0.5" doc:"Probability that a determination that closes is looked at again by a blind panel"`
		Panel               int                     `json:"panel" minimum:"3" maximum:"9" doc:"How many people look at it: 3, 5, 7 or 9"`
		List                map[string]float64      `json:"list" doc:"The club's own list of what is found here: a weight above 0 by family. Empty: the square root of the number of described species; otherwise a family that is not on it gets a tenth of the least weight, and all of these together at most a fiftieth of the list"`
		Mix                 map[string]float64      `json:"mix" required:"false" doc:"Of what the prior is mixed: a share above 0 for each part, together 1. Parts are ids of faunas (GET /faunas), list (the club's own list) and world (the numbers of described species in the tables). {}: the list alone, or the world where that is empty. Left out: as it is now"`
		ReliabilityShown    review.ReliabilityShown `json:"reliability_shown" required:"false" enum:"totals,names" doc:"What curators are shown of how reliably people read: totals of roles, or each person by name. Left out: totals"`
		Reason              string                  `json:"reason" minLength:"1" maxLength:"2000"`
	}
}

func (a *api) registerPolicy() {
	huma.Register(a.doors, reading("/policy", "policy", "policy", "When a determination settles"), a.policy)
	changes[setPolicyInput](a, operation(http.MethodPut, "/policy", "set-policy", "policy", "Put a new policy in force", http.StatusForbidden,
		http.StatusConflict, http.StatusPreconditionFailed, http.StatusRequestEntityTooLarge, http.StatusUnsupportedMediaType), a.setPolicy,
		func(ctx context.Context, _ *setPolicyInput, _ string) (*policyOutput, error) {
			policy, err := a.Service.Policy(ctx)
			return policyIs(ctx, policy), err
		})
}

func (a *api) policy(ctx context.Context, in *OnPolicy) (*policyOutput, error) {
	policy, err := a.Service.Policy(ctx)
	if err != nil {
		return nil, err
	}
	out := policyIs(ctx, policy)
	out.Status, err = in.reading(versionTag(policy.Version))
	return out, err
}

func (a *api) setPolicy(ctx context.Context, in *setPolicyInput) (*policyOutput, error) {
	// Version 0 is both the policy that Revidit starts with and review.AnyVersion; the tags are compared here, and of
	// two first policies at once the store lets one through.
	version, err := in.version(func() (int, []entityTag, error) {
		present, err := a.Service.Policy(ctx)
		return present.Version, []entityTag{versionTag(present.Version)}, err
	})
	if err != nil {
		return nil, err
	}
	b := in.Body
	if b.Mix == nil {
		present, err := a.Service.Policy(ctx)
		if err != nil {
			return nil, err
		}
		b.Mix = present.Mix
	}
	made, err := a.Service.SetPolicy(ctx, in.actor, version, review.Policy{Reviewers: b.Reviewers, OneSuffices: b.OneSuffices, Confidence: b.Confidence,
		ExcludedNeedsReason: b.ExcludedNeedsReason, Experts: b.Experts, HoldMinutes: b.HoldMinutes, HoldsAtOnce: b.HoldsAtOnce, BlindRate: b.BlindRate,
		RecheckRate: b.RecheckRate, Panel: b.Panel, List: b.List, Mix: b.Mix,
		ReliabilityShown: cmp.Or(b.ReliabilityShown, review.ShownTotals), Reason: b.Reason})
	if err != nil {
		return nil, err
	}
	return policyIs(ctx, made), nil
}

func policyIs(ctx context.Context, p review.Policy) *policyOutput {
	p.Reason = pages.PolicyReason(ctx, p)
	p.HoldsAtOnce = p.MostHolds() // what was stored without it has one all the same
	p.ReliabilityShown = cmp.Or(p.ReliabilityShown, review.ShownTotals)
	return &policyOutput{Status: http.StatusOK, ETag: versionTag(p.Version).String(), Body: p}
}

package web

import (
	"context"
	"net/http"

	"github.com/danielgtaylor/huma/v2"

	"revidit/review"
	"revidit/review/service"
)

// bodyInput is an act on a submission that brings something along.
type bodyInput[Form any] struct {
	ChangeByID
	Body Form
}

// ReasonForm is the reason of an act that needs nothing else.
type ReasonForm struct {
	Reason string `json:"reason" minLength:"1" maxLength:"2000"`
}

// registerActs adds what can be done with a submission; review.Allowed says in each view what the caller may do.
func (a *api) registerActs() {
	const at = "/submissions/{id}/"
	a.plain(changing(http.MethodPost, at+"submit", "submit-draft", "Put a draft before reviewers"), a.Service.Submit)
	a.plain(changing(http.MethodPost, at+"hold", "hold-submission", "Keep it for the caller for a while"), a.Service.Hold)
	a.plain(changing(http.MethodDelete, at+"hold", "end-hold", "End the caller's hold, or as a curator anybody's"), a.Service.EndHold)
	withForm(a, changing(http.MethodPost, at+"reviews", "review-submission", "Verdicts on observations, and an opinion on the name"), a.Service.Review)
	withForm(a, changing(http.MethodPost, at+"replies", "reply-to-contradiction", "Reason why a contradiction does not stand"), a.Service.Reply)
	withForm(a, changing(http.MethodPost, at+"returns", "return-submission", "Ask the owner for a photo, the specimen, or preparation"), a.Service.Return)
	withForm(a, changing(http.MethodPost, at+"answers", "answer-submission", "The owner's answer, with new evidence"), a.Service.Answer)
	a.reasoned(changing(http.MethodPost, at+"settlement", "settle-submission", "Confirm on the authority of a reviewer named for the family"), a.Service.Settle)
	a.reasoned(changing(http.MethodPost, at+"undetermination", "undetermine-submission", "Close as one that cannot be named, such as Coleoptera, fam. indet., and why"), a.Service.Undetermine)
	a.reasoned(changing(http.MethodPost, at+"withdrawal", "withdraw-submission", "Take it back, or discard a draft"), a.Service.Withdraw)
	a.reasoned(changing(http.MethodPost, at+"reopening", "reopen-submission", "Put a closed one before reviewers again"), a.Service.Reopen)
	audit := changing(http.MethodPost, at+"audit", "audit-submission", "Open what others have said of it, as a curator, for a written reason and without a verdict")
	audit.Description = "An event that everybody reads who reads the history; the reason is closed to those from whom the submission is sealed. It stays open to the caller, who can look blind at the specimen no more: what they say of it " +
		"later is marked after_opening, weighs as agreement where it repeats what others said, and is no voice of its own for the policy. 409 where nothing is closed to the caller."
	a.reasoned(audit, a.Service.Audit)
	release := func(takeBack bool) func(context.Context, review.Actor, string, int) (service.Done, error) {
		return func(ctx context.Context, actor review.Actor, id string, version int) (service.Done, error) {
			return a.Service.ReleaseSlip(ctx, actor, id, version, takeBack)
		}
	}
	a.plain(changing(http.MethodPost, at+"slip", "release-slip", "Let the slip of the caller's own opinion be printed for the pin"), release(false))
	a.plain(changing(http.MethodDelete, at+"slip", "take-slip-back", "Take the release of the caller's slip back"), release(true))
	a.reasoned(changing(http.MethodPost, at+"upholding", "uphold-submission", "Let a closed determination stand, as a curator, that a panel or a release speaks against"), a.Service.Uphold)
	follow := changing(http.MethodPost, at+"redeterminations", "redetermine", "Follow it with another determination of the same specimen")
	follow.DefaultStatus = http.StatusCreated
	changes[bodyInput[review.RedetermineForm]](a, follow, a.redetermine, func(ctx context.Context, in *bodyInput[review.RedetermineForm], made string) (*viewOutput, error) {
		return a.madeBefore(ctx, in.actor, made)
	})
}

// plain registers an act that needs no more than the submission.
func (a *api) plain(o huma.Operation, do func(context.Context, review.Actor, string, int) (service.Done, error)) {
	changes[ChangeByID](a, o, func(ctx context.Context, in *ChangeByID) (*viewOutput, error) {
		return a.act(ctx, &in.ByID, func(version int) (service.Done, error) { return do(ctx, in.actor, in.ID, version) })
	}, func(ctx context.Context, in *ChangeByID, _ string) (*viewOutput, error) {
		return a.view(ctx, in.actor, in.ID)
	})
}

// withForm registers an act that brings a form along.
func withForm[Form any](a *api, o huma.Operation, do func(context.Context, review.Actor, string, int, Form) (service.Done, error)) {
	changes[bodyInput[Form]](a, o, func(ctx context.Context, in *bodyInput[Form]) (*viewOutput, error) {
		return a.act(ctx, &in.ByID, func(version int) (service.Done, error) {
			return do(ctx, in.actor, in.ID, version, in.Body)
		})
	}, func(ctx context.Context, in *bodyInput[Form], _ string) (*viewOutput, error) {
		return a.view(ctx, in.actor, in.ID)
	})
}

// reasoned registers an act that needs a reason.
func (a *api) reasoned(o huma.Operation, do func(context.Context, review.Actor, string, int, string) (service.Done, error)) {
	withForm(a, o, func(ctx context.Context, actor review.Actor, id string, version int, form ReasonForm) (service.Done, error) {
		return do(ctx, actor, id, version, form.Reason)
	})
}

func (a *api) redetermine(ctx context.Context, in *bodyInput[review.RedetermineForm]) (*viewOutput, error) {
	version, err := in.version(func() (int, []entityTag, error) { return a.present(ctx, &in.ByID) })
	if err != nil {
		return nil, err
	}
	made, err := a.Service.Redetermine(ctx, in.actor, in.ID, version, in.Body)
	if err != nil {
		return nil, err
	}
	return a.created(ctx, in.actor, made)
}

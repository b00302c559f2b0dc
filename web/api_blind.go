package web

import (
	"context"
	"net/http"
	"reflect"

	"github.com/danielgtaylor/huma/v2"

	"revidit/review"
	"revidit/review/service"
)

type blindOutput struct {
	Status int
	ETag   string `header:"ETag"`
	Body   service.BlindView
}

// registerBlind adds looking blind, at a character of a submission or, on a panel, at a closed determination; and the
// answer of all routes that show nothing until that is done.
func (a *api) registerBlind() {
	const at = "/submissions/{id}/"
	a.describeBlindFirst()
	huma.Register(a.doors, hiding(reading(at+"blind", "blind-look", "submissions",
		"What the caller is to look at blind: the question, the photos, and nothing else", http.StatusNotFound)), a.blindLook)
	withLook(a, changing(http.MethodPost, at+"blind", "answer-blind", "Say what is seen of a character, blind; then the submission is shown"), a.Service.BlindCheck)
	withLook(a, changing(http.MethodPost, at+"panel", "name-blind", "Name the family of a closed determination from its photos; then it is shown"), a.Service.PanelOpinion)
	leave := changing(http.MethodPost, at+"panel/leave", "leave-panel", "See a closed determination instead of looking at it blind")
	changes[ChangeByID](a, leave, func(ctx context.Context, in *ChangeByID) (*viewOutput, error) {
		return a.look(ctx, &in.ByID, func(version int) (service.Done, error) {
			return a.Service.LeavePanel(ctx, in.actor, in.ID, version)
		})
	}, func(ctx context.Context, in *ChangeByID, _ string) (*viewOutput, error) {
		return a.view(ctx, in.actor, in.ID)
	})
}

// describeBlindFirst puts the type of the problem where its own address says that it stands.
func (a *api) describeBlindFirst() {
	components := a.doors.OpenAPI().Components
	components.Responses = map[string]*huma.Response{blindName: {
		Description: "The caller was drawn by chance to look blind at this submission, or at another one of the same specimen, before anything of it is shown. " +
			"The member blind says where: GET it, POST the answer there (to panel beside it, where recheck is true), and ask again. " +
			"It is missing while that submission is with its owner.",
		Content: map[string]*huma.MediaType{problemMedia: {
			Schema: components.Schemas.Schema(reflect.TypeFor[Problem](), true, "Problem")}},
	}}
}

func (a *api) blindLook(ctx context.Context, in *ByID) (*blindOutput, error) {
	view, err := a.Service.BlindLook(ctx, in.actor, in.ID)
	if err != nil {
		return nil, err
	}
	tag, err := submissionTag(view.Version, view)
	if err != nil {
		return nil, err
	}
	out := &blindOutput{ETag: tag.String(), Body: view}
	out.Status, err = in.reading(tag)
	return out, err
}

// withLook registers an answer of somebody who looks blind.
func withLook[Form any](a *api, o huma.Operation, do func(context.Context, review.Actor, string, int, Form) (service.Done, error)) {
	changes[bodyInput[Form]](a, o, func(ctx context.Context, in *bodyInput[Form]) (*viewOutput, error) {
		return a.look(ctx, &in.ByID, func(version int) (service.Done, error) {
			return do(ctx, in.actor, in.ID, version, in.Body)
		})
	}, func(ctx context.Context, in *bodyInput[Form], _ string) (*viewOutput, error) {
		return a.view(ctx, in.actor, in.ID)
	})
}

// look is act for those who are shown no more than the question.
func (a *api) look(ctx context.Context, in *ByID, do func(version int) (service.Done, error)) (*viewOutput, error) {
	version, err := in.version(func() (int, []entityTag, error) {
		view, err := a.Service.BlindLook(ctx, in.actor, in.ID)
		if err != nil {
			return 0, nil, err
		}
		tag, err := submissionTag(view.Version, view)
		return view.Version, []entityTag{tag, evidenceTag(view.Version)}, err
	})
	if err != nil {
		return nil, err
	}
	if _, err := do(version); err != nil {
		return nil, err
	}
	return a.view(ctx, in.actor, in.ID)
}

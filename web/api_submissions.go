package web

import (
	"context"
	"net/http"
	"strconv"

	"github.com/danielgtaylor/huma/v2"

	"revidit/review"
	"revidit/review/judgement"
	"revidit/review/service"
)

// Paging asks for a part of a list.
type Paging struct {
	Size   int    `query:"size" minimum:"1" maximum:"200" default:"50"`
	Cursor string `query:"cursor" maxLength:"20000" doc:"What the last page gave as next, to the same person for the same list and filter"`
}

func (p Paging) page() service.Page { return service.Page{Size: p.Size, Cursor: p.Cursor} }

type findInput struct {
	Caller
	Paging
	Status   string `query:"status" enum:"draft,open,returned,confirmed,redetermined,undetermined,withdrawn"`
	Group    string `query:"group" maxLength:"60" doc:"Id of a group of tables"`
	Family   string `query:"family" maxLength:"60"`
	Owner    string `query:"owner" maxLength:"60" doc:"Id of a person, or me"`
	Specimen string `query:"specimen" maxLength:"60"`
	Text     string `query:"text" maxLength:"200" doc:"Part of a catalogue number, family or scientific name; fewer than three characters are looked for at their beginning; a whole catalogue number finds only what bears it"`
	Doubtful bool   `query:"doubtful" doc:"Only those with a contradiction"`
	Parted   bool   `query:"parted" doc:"Only closed ones that a complete panel does not bear out, and that no curator has upheld since"`
	Series   string `query:"series" maxLength:"60" doc:"Id of a beginner's series"`
	// What audits look for.
	Determiner string `query:"determiner" maxLength:"60" doc:"Id of the person who gave the name, or me"`
	Judge      string `query:"judge" maxLength:"60" doc:"Id of a person, or me: only closed ones of which that person said something. Others than the person and curators may not ask"`
	Said       string `query:"said" enum:"confirmed,disputed,agrees,another" doc:"Of judge: what was said, of an observation or of the name"`
	Against    string `query:"against" enum:"excluded,incompatible,combination,better-fit,unusual,unseen" doc:"Only those with a contradiction of this kind, of those that doubtful is of"`
	Release    string `query:"release" maxLength:"64" doc:"Hash of the tables with which it was last judged"`
	InPeriod
	Slips bool `query:"slips" doc:"Only the caller's drafts of names that stand on old slips"`
}

type linesOutput struct {
	Body struct {
		Items []service.SubmissionLine `json:"items" nullable:"false"`
		Next  string                   `json:"next" doc:"Cursor of the next page; empty at the end"`
	}
}

type queueInput struct {
	Caller
	Paging
	Group  string `query:"group" maxLength:"60" doc:"Id of a group of tables"`
	Family string `query:"family" maxLength:"60"`
	Trip   string `query:"trip" maxLength:"120"`
	Drawer string `query:"drawer" maxLength:"120"`
}

type queueOutput struct {
	Body struct {
		Items []service.QueueLine `json:"items" nullable:"false"`
		Next  string              `json:"next" doc:"Cursor of the next page; empty at the end"`
	}
}

type createInput struct {
	Caller
	Keyed
	Body struct {
		review.SubmissionForm
		Draft bool `json:"draft" required:"false" doc:"Store it as a draft that only its owner sees"`
	}
}

// ByID names a submission or a specimen. It is exported because huma looks into exported parts only.
type ByID struct {
	Caller
	Conditions
	ID string `path:"id" maxLength:"60"`
}

// ChangeByID is a change of what it names.
type ChangeByID struct {
	ByID
	Keyed
}

type reviseInput struct {
	ChangeByID
	Submit bool `query:"submit" doc:"Put it before reviewers in the same step"`
	Body   review.Revision
}

// viewOutput is a submission as the caller may see it now.
type viewOutput struct {
	Status   int
	ETag     string `header:"ETag"`
	Location string `header:"Location"`
	Body     service.SubmissionView
}

type historyInput struct {
	Caller
	ID string `path:"id" maxLength:"60"`
}

type historyOutput struct{ Body service.History }

type countsOutput struct {
	Body map[review.Status]int
}

func (a *api) registerSubmissions() {
	const tag = "submissions"
	huma.Register(a.doors, operation(http.MethodGet, "/submissions", "find-submissions", tag, "Submissions, the latest changed first"), a.find)
	create := operation(http.MethodPost, "/submissions", "create-submission", tag, "Submit a determination, or store a draft",
		http.StatusConflict, http.StatusRequestEntityTooLarge, http.StatusUnsupportedMediaType)
	create.DefaultStatus = http.StatusCreated
	huma.Register(a.doors, hiding(create), a.create)
	huma.Register(a.doors, hiding(reading("/submissions/{id}", "submission", tag, "A submission as the caller may see it", http.StatusNotFound)), a.submission)
	changes[reviseInput](a, changing(http.MethodPut, "/submissions/{id}", "revise-submission", "Replace the content of a draft; what is left out of the body whole, such as the label, stays as it is"), a.revise,
		func(ctx context.Context, in *reviseInput, _ string) (*viewOutput, error) {
			return a.view(ctx, in.actor, in.ID)
		})
	huma.Register(a.doors, hiding(operation(http.MethodGet, "/submissions/{id}/events", "submission-events", tag,
		"What has happened to a submission and its specimen, the oldest first", http.StatusNotFound)), a.events)
	huma.Register(a.doors, operation(http.MethodGet, "/queue", "queue", tag, "Open submissions for the caller to review: of five, four by what a look tells and one by how long it has waited",
		http.StatusForbidden), a.queue)
	huma.Register(a.doors, operation(http.MethodGet, "/counts", "counts", tag, "Submissions in each status; drafts only the caller's own; 1001 stands for any number above 1000"), a.counts)
}

// changing describes a route that changes a submission.
func changing(method, path, id, summary string) huma.Operation {
	return hiding(operation(method, path, id, "submissions", summary, http.StatusForbidden, http.StatusNotFound, http.StatusConflict,
		http.StatusPreconditionFailed, http.StatusRequestEntityTooLarge, http.StatusUnsupportedMediaType))
}

func statusText(status int) string { return strconv.Itoa(status) }

func (a *api) find(ctx context.Context, in *findInput) (*linesOutput, error) {
	filter := service.SubmissionFilter{Owner: orMe(in.Owner, in.actor), Specimen: in.Specimen, Status: review.Status(in.Status), Group: in.Group,
		Family: in.Family, Text: in.Text, Doubtful: in.Doubtful, Parted: in.Parted, Slips: in.Slips, Series: in.Series}
	period, err := in.period()
	if err != nil {
		return nil, err
	}
	filter.From, filter.Until = period.From, period.Until
	filter.Determiner, filter.Judge, filter.Said = orMe(in.Determiner, in.actor), orMe(in.Judge, in.actor), service.Said(in.Said)
	filter.Against, filter.Release = judgement.ContradictionKind(in.Against), in.Release
	lines, next, err := a.Service.Find(ctx, in.actor, filter, in.page())
	if err != nil {
		return nil, err
	}
	out := &linesOutput{}
	out.Body.Items, out.Body.Next = orEmpty(lines), next
	return out, nil
}

// orMe is the id of a person, of the caller where it says me.
func orMe(id string, actor review.Actor) string {
	if id == "me" {
		return actor.Person
	}
	return id
}

func (a *api) queue(ctx context.Context, in *queueInput) (*queueOutput, error) {
	lines, next, err := a.Service.Queue(ctx, in.actor, service.QueueFilter{Group: in.Group, Family: in.Family, Trip: in.Trip, Drawer: in.Drawer}, in.page())
	if err != nil {
		return nil, err
	}
	out := &queueOutput{}
	out.Body.Items, out.Body.Next = orEmpty(queueInWords(ctx, a.teller(ctx), lines)), next
	return out, nil
}

func (a *api) counts(ctx context.Context, in *callerInput) (*countsOutput, error) {
	counted, err := a.Service.Counts(ctx, in.actor)
	if err != nil {
		return nil, err
	}
	all := map[review.Status]int{}
	for _, status := range review.Statuses {
		all[status] = counted[status]
	}
	return &countsOutput{Body: all}, nil
}

func (a *api) create(ctx context.Context, in *createInput) (*viewOutput, error) {
	make := a.Service.SubmitNew
	if in.Body.Draft {
		make = a.Service.Draft
	}
	made, err := make(ctx, in.actor, in.Body.SubmissionForm, in.Key)
	if err != nil {
		return nil, err
	}
	return a.created(ctx, in.actor, made)
}

func (a *api) submission(ctx context.Context, in *ByID) (*viewOutput, error) {
	out, err := a.view(ctx, in.actor, in.ID)
	if err != nil {
		return nil, err
	}
	tag, err := submissionTag(out.Body.Version, out.Body)
	if err != nil {
		return nil, err
	}
	out.Status, err = in.reading(tag)
	return out, err
}

func (a *api) revise(ctx context.Context, in *reviseInput) (*viewOutput, error) {
	return a.act(ctx, &in.ByID, func(version int) (service.Done, error) {
		if in.Submit {
			return a.Service.ReviseAndSubmit(ctx, in.actor, in.ID, version, in.Body)
		}
		return a.Service.Revise(ctx, in.actor, in.ID, version, in.Body)
	})
}

func (a *api) events(ctx context.Context, in *historyInput) (*historyOutput, error) {
	history, err := a.Service.HistoryOf(ctx, in.actor, in.ID)
	return &historyOutput{Body: history}, err
}

// act changes the submission that a request names, if it is still the version that the request was decided on, and
// answers with the submission as it is then.
func (a *api) act(ctx context.Context, in *ByID, do func(version int) (service.Done, error)) (*viewOutput, error) {
	version, err := in.version(func() (int, []entityTag, error) { return a.present(ctx, in) })
	if err != nil {
		return nil, err
	}
	changed, err := do(version)
	if err != nil {
		return nil, err
	}
	return a.viewDone(ctx, in.actor, changed)
}

func (a *api) present(ctx context.Context, in *ByID) (int, []entityTag, error) {
	view, err := a.Service.View(ctx, in.actor, in.ID)
	if err != nil {
		return 0, nil, err
	}
	tag, err := submissionTag(view.Version, a.toldView(ctx, view))
	if err != nil {
		return 0, nil, err
	}
	seen, err := a.seenEvents(ctx, in)
	return view.Version, append(seen, tag, evidenceTag(view.Version)), err
}

// seenEvents are the numbers of events in If-Match since which nothing has happened but what people said.
func (a *api) seenEvents(ctx context.Context, in *ByID) ([]entityTag, error) {
	match, err := parseTags("If-Match", in.IfMatch)
	if err != nil || match == nil {
		return nil, err
	}
	var same []entityTag
	for _, tag := range match.tags[:min(len(match.tags), mostTags)] {
		seq, err := strconv.Atoi(tag.opaque)
		if err != nil || tag.weak {
			continue
		}
		ok, err := a.Service.SameEvidence(ctx, in.actor, in.ID, seq)
		if err != nil {
			return nil, err
		}
		if ok {
			same = append(same, versionTag(seq))
		}
	}
	return same, nil
}

// mostTags bounds how often events are read for one request.
const mostTags = 5

// view answers 200 with a submission.
func (a *api) view(ctx context.Context, actor review.Actor, id string) (*viewOutput, error) {
	view, err := a.Service.View(ctx, actor, id)
	return a.answered(ctx, view, err)
}

// viewDone answers 200 with what an act has left.
func (a *api) viewDone(ctx context.Context, actor review.Actor, made service.Done) (*viewOutput, error) {
	view, err := a.Service.ViewDone(ctx, actor, made)
	return a.answered(ctx, view, err)
}

func (a *api) answered(ctx context.Context, view service.SubmissionView, err error) (*viewOutput, error) {
	if err != nil {
		return nil, err
	}
	view = a.toldView(ctx, view)
	tag, err := submissionTag(view.Version, view)
	return &viewOutput{Status: http.StatusOK, ETag: tag.String(), Body: view}, err
}

// created answers 201 with a new submission and where it stands.
func (a *api) created(ctx context.Context, actor review.Actor, made service.Done) (*viewOutput, error) {
	out, err := a.viewDone(ctx, actor, made)
	if err != nil {
		return nil, err
	}
	out.Status, out.Location = http.StatusCreated, apiPrefix+"/submissions/"+made.ID
	return out, nil
}

// madeBefore answers a request that was served before as created does.
func (a *api) madeBefore(ctx context.Context, actor review.Actor, made string) (*viewOutput, error) {
	out, err := a.view(ctx, actor, made)
	if err != nil {
		return nil, err
	}
	out.Status, out.Location = http.StatusCreated, apiPrefix+"/submissions/"+made
	return out, nil
}

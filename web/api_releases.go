package web

import (
	"context"
	"errors"
	"mime"
	"net/http"
	"slices"

	"github.com/danielgtaylor/huma/v2"
	"github.com/gin-gonic/gin"

	"revidit/review"
	"revidit/review/diagnosis"
	"revidit/review/service"
)

// GroupView is a group of tables as it is in force.
type GroupView struct {
	TablesView
	Families   int `json:"families" doc:"How many"`
	Characters int `json:"characters" doc:"How many"`
}

type groupsOutput struct {
	Body struct {
		Items []GroupView `json:"items" nullable:"false" doc:"The first is that of submissions which name none"`
	}
}

// InForce says which tables of a group are in force.
type InForce struct {
	Release string `json:"release" doc:"Version"`
	Hash    string `json:"hash"`
	BuiltIn bool   `json:"built_in" doc:"They came with the program and were not published here"`
}

// ReleaseView is a release that was published here.
type ReleaseView struct {
	review.Release
	ByName string `json:"by_name"`
}

type releasesOutput struct {
	Body struct {
		InForce InForce       `json:"in_force"`
		Items   []ReleaseView `json:"items" nullable:"false" doc:"The latest first"`
	}
}

type releasesInput struct {
	Caller
	InGroup
}

type releaseInput struct {
	Caller
	Conditions
	InGroup
	Hash string `path:"hash" maxLength:"64" doc:"Of a release that was published here, or of the tables in force"`
}

type archiveOutput struct {
	Status      int
	ETag        string `header:"ETag"`
	Type        string `header:"Content-Type"`
	Disposition string `header:"Content-Disposition"`
	Cache       string `header:"Cache-Control"`
	Body        []byte
}

// OnRelease is a request about the next release of a group.
type OnRelease struct {
	Caller
	Conditions
	InGroup
}

type previewReleaseOutput struct {
	Status int
	ETag   string `header:"ETag"`
	Body   struct {
		Effect  review.Effect `json:"effect"`
		Changes []ChangeView  `json:"changes" nullable:"false" doc:"Those that the release would take in, the first approved first"`
	}
}

type publishInput struct {
	OnRelease
	Keyed
	Body struct {
		Version string `json:"version" minLength:"1" maxLength:"40" doc:"Another than any before"`
		Notes   string `json:"notes" required:"false" maxLength:"4000" doc:"What is new"`
	}
}

type publishedOutput struct {
	Location string `header:"Location"`
	Body     review.Release
}

// registerReleases adds the groups and what was published of them.
func (a *api) registerReleases(group *gin.RouterGroup) {
	const at, tag = "/groups/{group}", "tables"
	huma.Register(a.doors, operation(http.MethodGet, "/groups", "groups", tag, "Groups of tables, as they are in force"), a.groups)
	huma.Register(a.doors, operation(http.MethodGet, at+"/releases", "releases", tag, "Releases of a group that were published here",
		http.StatusNotFound), a.releases)
	release := reading(at+"/releases/{hash}", "release", tag, "The files of a release", http.StatusNotFound)
	release.Responses["200"] = binaryResponse(archiveMedia)
	huma.Register(a.doors, release, a.release)
	huma.Register(a.doors, reading(at+"/release-preview", "preview-release", tag, "What the approved changes would do together",
		http.StatusForbidden, http.StatusNotFound, http.StatusConflict), a.previewRelease)
	publish := operation(http.MethodPost, at+"/releases", "publish-release", tag, "Publish the approved changes as the next release",
		http.StatusForbidden, http.StatusNotFound, http.StatusConflict, http.StatusPreconditionFailed, http.StatusRequestEntityTooLarge,
		http.StatusUnsupportedMediaType)
	publish.DefaultStatus = http.StatusCreated
	changes[publishInput](a, publish, a.publishRelease, func(ctx context.Context, in *publishInput, made string) (*publishedOutput, error) {
		release, err := a.released(ctx, in.Group, made)
		return &publishedOutput{Location: releasePath(release), Body: release}, err
	})
	a.registerImport(group, at, tag)
}

func (a *api) groups(ctx context.Context, _ *callerInput) (*groupsOutput, error) {
	judges, err := a.Service.Groups(ctx)
	if err != nil {
		return nil, err
	}
	out := &groupsOutput{}
	out.Body.Items = []GroupView{}
	for _, j := range judges {
		t := j.Tables()
		out.Body.Items = append(out.Body.Items, GroupView{TablesView: tablesView(t), Families: len(t.Families), Characters: len(t.Characters)})
	}
	return out, nil
}

func (a *api) releases(ctx context.Context, in *releasesInput) (*releasesOutput, error) {
	t, err := a.tables(ctx, in.Group)
	if err != nil {
		return nil, err
	}
	releases, names, err := a.Service.Releases(ctx, in.Group)
	if err != nil {
		return nil, err
	}
	out := &releasesOutput{}
	out.Body.InForce, out.Body.Items = InForce{Release: t.Group.Release, Hash: t.Hash, BuiltIn: true}, []ReleaseView{}
	for _, r := range releases {
		out.Body.Items = append(out.Body.Items, ReleaseView{Release: r, ByName: names[r.By]})
		out.Body.InForce.BuiltIn = out.Body.InForce.BuiltIn && r.Hash != t.Hash
	}
	return out, nil
}

// release sends the files of a release. Its hash is what makes it that release, so that a client may keep it for ever.
func (a *api) release(ctx context.Context, in *releaseInput) (*archiveOutput, error) {
	if err := a.checkHash(ctx, in); err != nil {
		return nil, err
	}
	tag := entityTag{opaque: in.Hash}
	status, err := in.reading(tag)
	if err != nil {
		return nil, err
	}
	name := mime.FormatMediaType("attachment", map[string]string{"filename": in.Group + "-" + in.Hash[:12] + ".zip"})
	out := &archiveOutput{Status: status, ETag: tag.String(), Type: archiveMedia, Disposition: name, Cache: "private, max-age=31536000, immutable"}
	if status == http.StatusNotModified {
		return out, nil
	}
	folder, err := a.Service.Folder(ctx, in.Group, in.Hash)
	if err != nil {
		return nil, err
	}
	files, err := diagnosis.Contents(folder)
	if err != nil {
		return nil, err
	}
	out.Body, err = packed(files)
	return out, err
}

// checkHash is an error where the hash is of no release of the group.
func (a *api) checkHash(ctx context.Context, in *releaseInput) error {
	t, err := a.tables(ctx, in.Group)
	if err != nil || in.Hash == t.Hash {
		return err
	}
	releases, _, err := a.Service.Releases(ctx, in.Group)
	if err != nil {
		return err
	}
	if !slices.ContainsFunc(releases, func(r review.Release) bool { return r.Hash == in.Hash }) {
		return review.Errorf(review.KindNotFound, "No release of %s with this hash was published here.", in.Group)
	}
	return nil
}

func (a *api) previewRelease(ctx context.Context, in *OnRelease) (*previewReleaseOutput, error) {
	effect, approved, err := a.Service.PreviewRelease(ctx, in.actor, in.Group)
	if err != nil {
		return nil, unfit(err)
	}
	// The persons of the approved changes come with the list alone.
	_, names, err := a.Service.CellProposals(ctx, in.actor, in.Group, review.ProposalApproved)
	if err != nil {
		return nil, err
	}
	t, err := a.tables(ctx, in.Group)
	if err != nil {
		return nil, err
	}
	tag, err := waitingTag(t, approved)
	if err != nil {
		return nil, err
	}
	out := &previewReleaseOutput{ETag: tag.String()}
	out.Body.Effect, out.Body.Changes = a.teller(ctx).EffectInWords(ctx, effect), changeViews(approved, names)
	out.Status, err = in.reading(tag)
	return out, err
}

// waitingTag stands for the approved changes of a group together with the tables that they would change.
func waitingTag(t *diagnosis.Tables, approved []review.CellProposal) (entityTag, error) {
	ids := []string{t.Hash}
	for _, p := range approved {
		ids = append(ids, p.ID)
	}
	slices.Sort(ids)
	return viewTag(len(approved), ids)
}

func (a *api) publishRelease(ctx context.Context, in *publishInput) (*publishedOutput, error) {
	t, err := a.tables(ctx, in.Group)
	if err != nil {
		return nil, err
	}
	next := service.NextRelease{Group: in.Group, Version: in.Body.Version, Notes: in.Body.Notes}
	if in.IfMatch != "" {
		next.Base = t.Hash
	}
	if _, err := in.version(func() (int, []entityTag, error) { return a.waiting(ctx, &in.OnRelease) }); err != nil {
		return nil, err
	}
	made, err := a.Service.Publish(ctx, in.actor, next)
	if err != nil {
		return nil, unfit(err)
	}
	return &publishedOutput{Location: releasePath(made), Body: made}, nil
}

// released is a release by its hash.
func (a *api) released(ctx context.Context, group, hash string) (review.Release, error) {
	releases, _, err := a.Service.Releases(ctx, group)
	if err != nil {
		return review.Release{}, err
	}
	for _, r := range releases {
		if r.Hash == hash {
			return r, nil
		}
	}
	return review.Release{}, review.Errorf(review.KindNotFound, "No release of %s with this hash was published here.", group)
}

func (a *api) waiting(ctx context.Context, in *OnRelease) (int, []entityTag, error) {
	approved, _, err := a.Service.CellProposals(ctx, in.actor, in.Group, review.ProposalApproved)
	if err != nil {
		return 0, nil, err
	}
	t, err := a.tables(ctx, in.Group)
	if err != nil {
		return 0, nil, err
	}
	tag, err := waitingTag(t, approved)
	return len(approved), []entityTag{tag}, err
}

func releasePath(r review.Release) string {
	return apiPrefix + "/groups/" + r.Group + "/releases/" + r.Hash
}

// unfit turns what is wrong with stored changes into a conflict: no field of this request is wrong.
func unfit(err error) error {
	var known *review.Error
	if !errors.As(err, &known) || known.Kind != review.KindInvalid || slices.ContainsFunc(known.Fields, otherThanEdit) {
		return err
	}
	return review.Errorf(review.KindConflict, "The approved changes do not fit the tables in force together. Nothing was published; refuse or withdraw what does not fit: %s", wordsOfFields(known))
}

func otherThanEdit(f review.FieldProblem) bool { return f.Field != "edit" }

package modelstest

import (
	"context"
	"encoding/json"
	"fmt"
	"math/rand/v2"
	"os"
	"slices"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"revidit/models"
	"revidit/models/blob"
	"revidit/review"
	"revidit/review/jobs"
	"revidit/review/service"
)

// Many is how often something made-up is tried: short in the check that everybody runs, long where REVIDIT_LONG is set,
// as deploy/check.sh long does.
func Many(short, long int) int {
	if os.Getenv("REVIDIT_LONG") != "" {
		return long
	}
	return short
}

// Histories lives through made-up histories of specimens with the real service: people of every role do whatever comes
// to their minds, allowed or not. After each one the stored specimen and submissions must be what their events make, and
// at the end Rebuild must leave every row as it is. The seed makes a run the same again.
func Histories(t *testing.T, open func(t *testing.T) *models.DB, seed uint64, count int) {
	if testing.Short() {
		count = max(1, count/5)
	}
	t.Logf("seed %d, %d histories", seed, count)
	w := newWorld(t, open(t), seed)
	for range count {
		w.live()
	}
	w.requireProposalsReplayed()
	w.requireReliabilitiesReplayed()
	w.requireLearntWhenClosed()
	w.requireTestimonies()
	w.requirePastAgain()
	w.requireMuchHappened(count)
	before := w.snapshot()
	require.NoError(t, w.db.Rebuild(t.Context()))
	require.Equal(t, before, w.snapshot(), "rebuilt rows differ")
}

// Live lives through made-up histories like Histories, for tests that need a database in which everything has happened.
func Live(t *testing.T, db *models.DB, seed uint64, count int) {
	w := newWorld(t, db, seed)
	for range count {
		w.live()
	}
}

// UnsteadyClock lives through histories while the clock is set back again and again: no event may be of an earlier time
// than the one before it in its stream.
func UnsteadyClock(t *testing.T, open func(t *testing.T) *models.DB, seed uint64, count int) {
	w := newWorld(t, open(t), seed)
	w.unsteady = true
	for range count {
		w.live()
	}
	w.requirePastAgain()
	events := fixture{t, w.db}.requirePositions()
	last, kinds, back := map[string]time.Time{}, map[string]int{}, 0
	for i, e := range events {
		if before, known := last[e.Stream]; known {
			kind, _, _ := strings.Cut(e.Stream, "/")
			kinds[kind]++
			require.False(t, e.At.Before(before), "event %d of %s is of %v, the one before of %v", e.Seq, e.Stream, e.At, before)
		}
		if i > 0 && e.At.Before(events[i-1].At) {
			back++
		}
		last[e.Stream] = e.At
	}
	require.Positive(t, back, "the clock was never behind what another stream has")
	wanted := []string{"specimen", "submission", "policy", "reliability", "cell-proposal", "tables"}
	if count < 400 { // too few for rare acts
		wanted = wanted[:2]
	}
	for _, kind := range wanted {
		require.Positive(t, kinds[kind], "no %s has two events", kind)
	}
}

// world is a club in which things happen.
type world struct {
	*testing.T
	db      *models.DB
	service *service.Service
	dice    *rand.Rand
	now     time.Time
	ids     int
	people  []review.Actor

	unsteady bool // the clock is set back now and then

	group       string            // of tables, of the present history; empty: the first one
	specimen    string            // of the present history
	submissions []string          // of the present history
	owners      map[string]string // of submissions
	uploads     []string          // that may not have been used yet
	specimens   []string          // of all histories

	proposals []string // of cells, of all histories
	releases  int
	decided   map[review.ProposalStatus]int // that proposals were given, or have ended in

	voices        map[bool]int // names that settled while one voice sufficed, and while a number was asked for
	seeds         int          // dice that were thrown
	drawn, panels int          // submissions drawn for blind checks; panels that were complete

	statuses         map[review.Status]int // that submissions have ended in
	groups           map[string]int        // of submissions
	accepted, denied map[string]int        // acts, by name
}

func newWorld(t *testing.T, db *models.DB, seed uint64) *world {
	w := &world{T: t, db: db, dice: rand.New(rand.NewPCG(seed, 0)), now: noon, statuses: map[review.Status]int{},
		groups: map[string]int{}, owners: map[string]string{}, decided: map[review.ProposalStatus]int{}, voices: map[bool]int{}, accepted: map[string]int{}, denied: map[string]int{}}
	w.service = service.NewService(db, &blob.Mem{}, service.NewLibrary(Tables(t), OtherTables(t)), service.Options{
		Now:   func() time.Time { return w.now },
		NewID: func() string { w.ids++; return fmt.Sprintf("id-%07d", w.ids) },
		Seed:  func() string { w.seeds++; return fmt.Sprintf("dice-%d-%d", seed, w.seeds) },
	})
	for i, role := range []review.Role{review.RoleMember, review.RoleMember, review.RoleReviewer, review.RoleReviewer,
		review.RoleReviewer, review.RoleReviewer, review.RoleReviewer, review.RoleReviewer, review.RoleReviewer, review.RoleCurator, review.RoleCurator} {
		name := fmt.Sprintf("Person %d", i)
		w.people = append(w.people, review.Actor{Person: fmt.Sprintf("person-%d", i), Name: name, Role: role})
		a := account(w.people[i].Person, fmt.Sprintf("login%d", i), name)
		a.Role = role
		require.NoError(t, db.CreateAccount(t.Context(), a))
	}
	return w
}

// pick returns one of the choices.
func pick[T any](w *world, choices ...T) T { return choices[w.dice.IntN(len(choices))] }

func (w *world) chance(p float64) bool { return w.dice.Float64() < p }

// live is one history: a specimen, and up to fifteen acts on its submissions.
func (w *world) live() {
	w.specimen, w.submissions, w.group = "", nil, pick(w, "", "", firstGroup, otherGroup)
	for tries := 0; w.specimen == ""; tries++ { // until one is not refused
		require.Less(w, tries, 1000, "every beginning is refused")
		w.begin()
	}
	acts := w.acts()
	for range w.dice.IntN(15) {
		w.tick()
		w.attempt(acts[w.dice.IntN(len(acts))])
	}
	w.sitOnPanels(acts)
	if w.registered() {
		w.specimens = append(w.specimens, w.specimen)
		w.requireReplayed(w.specimen)
	}
	for _, id := range w.submissions {
		s, err := w.stored(id)
		require.NoError(w, err)
		w.statuses[s.Status]++
		w.groups[s.Group]++
		w.noteChance(s)
	}
}

// registered says whether the specimen of this history is. One of which there is a draft alone has left no event.
func (w *world) registered() bool {
	w.Helper()
	_, err := w.db.Specimen(w.Context(), w.specimen)
	if err == nil {
		return true
	}
	require.Equal(w, review.KindNotFound, review.KindOf(err), "%v", err)
	for _, id := range w.submissions {
		for _, stream := range []string{review.SpecimenStream(w.specimen), review.SubmissionStream(id)} {
			events, err := w.db.Events(w.Context(), stream)
			require.NoError(w, err)
			require.Empty(w, events, "events begin at submitting")
		}
	}
	return false
}

// stored is a submission, or a draft as the submission that it would become.
func (w *world) stored(id string) (review.Submission, error) {
	s, err := w.db.Submission(w.Context(), id)
	if review.KindOf(err) != review.KindNotFound {
		return s, err
	}
	d, err := w.db.Draft(w.Context(), w.owners[id], id)
	return d.Submission(), err
}

// tick passes time: microseconds or days.
func (w *world) tick() {
	if w.unsteady && w.chance(0.3) {
		w.now = w.now.Add(-time.Duration(w.dice.Int64N(int64(20 * day))))
		return
	}
	w.now = w.now.Add(time.Duration(w.dice.Int64N(int64(pick(w, time.Millisecond, time.Minute, time.Hour, 10*day)))))
}

// act is something to try.
type act struct {
	name string
	do   func(actor review.Actor, id string, version int) (service.Done, error)
}

// attempt lets somebody try an act. A refusal is fine; anything that is not meant for people is a fault.
func (w *world) attempt(a act) {
	id := pick(w, w.submissions...)
	actor, version := pick(w, w.people...), service.AnyVersion
	s, err := w.stored(id)
	require.NoError(w, err)
	if w.chance(0.85) {
		actor = w.suitable(a.name, s)
	}
	if w.chance(0.2) {
		specimen, err := w.db.Specimen(w.Context(), w.specimen)
		if s.Saves == 0 {
			require.NoError(w, err)
		}
		version = review.EvidenceVersion(&s, &specimen) - w.dice.IntN(2)
	}
	got, err := a.do(actor, id, version)
	if err == nil && got.ID != "" && w.ids%10 == 0 {
		w.sameView(actor, got)
	}
	w.catchUp()
	w.note(a.name, got.Submission, err)
}

// catchUp does what is due. The check of the day, which looks at everything, is done after few acts alone: days pass quickly here.
func (w *world) catchUp() {
	w.Helper()
	due, err := w.service.DueJobs(w.Context())
	require.NoError(w, err)
	for _, job := range due {
		if job.Kind != jobs.KindCheck || w.dice.IntN(100) == 0 {
			require.NoError(w, w.service.Do(w.Context(), job, nil))
		}
	}
}

// sameView: what an act is answered with is what a reading afterwards shows, down to the last byte; but
// somebody may have been drawn to look blind at what has just been closed.
func (w *world) sameView(actor review.Actor, got service.Done) {
	answered, err := w.service.ViewDone(w.Context(), actor, got)
	require.NoError(w, err)
	read, err := w.service.View(w.Context(), actor, got.ID)
	if review.KindOf(err) == review.KindBlind {
		return
	}
	require.NoError(w, err)
	one, err := json.Marshal(answered)
	require.NoError(w, err)
	two, err := json.Marshal(read)
	require.NoError(w, err)
	require.Equal(w, string(two), string(one))
}

// suitable is somebody who might be allowed to, so that histories get somewhere.
func (w *world) suitable(name string, s review.Submission) review.Actor {
	wanted := func(p review.Actor) bool { return p.Role != review.RoleMember && p.Person != s.Owner }
	switch name {
	case "submit", "revise", "revise and submit", "answer", "withdraw", "correct label", "begin again":
		wanted = func(p review.Actor) bool { return p.Person == s.Owner }
	case "reopen", "audit", "uphold", "set policy", "propose cell", "decide cell", "publish", "refit":
		wanted = func(p review.Actor) bool { return p.Role == review.RoleCurator }
	case "release":
		wanted = func(p review.Actor) bool { return s.Hold == nil || p.Person == s.Hold.By }
	}
	if asked := w.asked(name, s); len(asked) > 0 {
		return pick(w, asked...)
	}
	fitting := slices.DeleteFunc(slices.Clone(w.people), func(p review.Actor) bool { return !wanted(p) })
	return pick(w, fitting...)
}

// note keeps what an act has made, and refuses errors that are faults.
func (w *world) note(name string, s review.Submission, err error) {
	if err != nil {
		require.NotEmpty(w, review.KindOf(err), "%s: %v", name, err)
		w.denied[name]++
		return
	}
	w.accepted[name]++
	if set := s.Settlement; set != nil && !set.OnAuthority && set.At.Equal(s.ChangedAt) && s.Status == review.StatusConfirmed {
		policy, err := w.db.Policy(w.Context())
		require.NoError(w, err)
		w.voices[policy.OneSuffices]++
	}
	if s.ID == "" {
		return
	}
	w.owners[s.ID] = s.Owner
	stored, err := w.stored(s.ID)
	require.NoError(w, err)
	require.Equal(w, []int{s.Seq, s.Saves}, []int{stored.Seq, stored.Saves}, "%s returns the version that it has stored", name)
	w.specimen = s.Specimen
	if !slices.Contains(w.submissions, s.ID) {
		w.submissions = append(w.submissions, s.ID)
	}
}

// begin drafts or submits a new specimen.
func (w *world) begin() {
	w.tick()
	actor := pick(w, w.people...)
	w.uploads = nil
	w.upload(actor)
	form := w.form()
	if w.chance(0.3) {
		s, err := w.service.Draft(w.Context(), actor, form, "")
		w.note("draft", s.Submission, err)
		return
	}
	s, err := w.service.SubmitNew(w.Context(), actor, form, fmt.Sprint("key-", w.ids))
	w.note("submit new", s.Submission, err)
}

// upload stores rows of photos as Service.Upload does, which would have to decode as many real ones.
func (w *world) upload(actor review.Actor) {
	for range 1 + w.dice.IntN(3) {
		w.ids++
		id := fmt.Sprintf("photo-%07d", w.ids)
		require.NoError(w, w.db.SaveUpload(w.Context(), review.Upload{Photo: review.Photo{ID: id, SHA256: strings.Repeat("5e", 32),
			Type: "image/jpeg", Width: 1 + w.dice.IntN(6000), Height: 1 + w.dice.IntN(4000), By: actor.Person, At: w.now}}))
		w.uploads = append(w.uploads, id)
	}
}

// requireReplayed compares a specimen and all of its submissions with what their events make.
func (w *world) requireReplayed(id string) {
	w.Helper()
	stored, err := w.db.Specimen(w.Context(), id)
	require.NoError(w, err)
	events, err := w.db.Events(w.Context(), review.SpecimenStream(id))
	require.NoError(w, err)
	replayed, err := review.ReplaySpecimen(events)
	require.NoError(w, err)
	require.Equal(w, replayed, stored)

	submissions, err := w.db.SubmissionsOf(w.Context(), id)
	require.NoError(w, err)
	require.NotEmpty(w, submissions)
	for _, s := range submissions {
		events, err := w.db.Events(w.Context(), review.SubmissionStream(s.ID))
		require.NoError(w, err)
		replayed, err := review.ReplaySubmission(events)
		require.NoError(w, err)
		require.Equal(w, replayed, s)
	}
}

// requireMuchHappened keeps the generator honest: a run in which nearly all is refused would prove nothing.
func (w *world) requireMuchHappened(count int) {
	w.Logf("accepted %v\nrefused %v\nended %v of %v\nproposals %v, releases %d\ndrawn %d, complete panels %d",
		w.accepted, w.denied, w.statuses, w.groups, w.decided, w.releases, w.drawn, w.panels)
	if count < 400 { // too few for rare acts
		return
	}
	for _, a := range w.acts() {
		require.NotZero(w, w.accepted[a.name], "%s was never accepted", a.name)
		require.NotZero(w, w.denied[a.name], "%s was never refused", a.name)
	}
	for _, status := range review.Statuses {
		require.NotZero(w, w.statuses[status], "no submission ended as %s", status)
	}
	for _, status := range []review.ProposalStatus{review.ProposalOpen, review.ProposalApproved, review.ProposalRefused,
		review.ProposalWithdrawn, review.ProposalReleased} {
		require.NotZero(w, w.decided[status], "no proposal was %s", status)
	}
	require.NotZero(w, w.releases)
	require.NotZero(w, w.voices[true], "no name settled where one voice suffices")
	require.NotZero(w, w.voices[false], "no name settled by number")
	require.NotZero(w, w.drawn)
	require.NotZero(w, w.panels)
	require.NotZero(w, w.groups[firstGroup])
	require.NotZero(w, w.groups[otherGroup])
}

// snapshot is everything that lists, the queue and single values show.
func (w *world) snapshot() map[string]any {
	ctx := context.Background()
	all := map[string]any{}
	for _, id := range w.specimens {
		specimen, err := w.db.Specimen(ctx, id)
		require.NoError(w, err)
		submissions, err := w.db.SubmissionsOf(ctx, id)
		require.NoError(w, err)
		all["specimen "+id], all["submissions of "+id] = specimen, submissions
		for _, photo := range specimen.Photos {
			upload, err := w.db.Upload(ctx, photo.ID)
			require.NoError(w, err)
			require.Equal(w, id, upload.Specimen)
			all["upload "+photo.ID] = upload
		}
	}
	for _, p := range w.people {
		filter := service.SubmissionFilter{Owner: p.Person, Viewer: p.Person} // with their drafts
		for page := (service.Page{Size: 200}); ; {
			lines, next, err := w.db.FindSubmissions(ctx, filter, page)
			require.NoError(w, err)
			for _, line := range lines {
				all["line "+line.ID] = line
			}
			if page.Cursor = next; next == "" {
				break
			}
		}
	}
	w.snapshotQueue(all, "queue", service.QueueFilter{AsOf: w.now})
	for _, p := range w.people {
		w.snapshotQueue(all, "queue of "+p.Person, service.QueueFilter{AsOf: w.now, Viewer: p.Person, Rechecks: true,
			Weights: map[string]float64{"antenna": 0.5, "wing": 1.25}})
	}
	w.snapshotTables(all)
	w.snapshotReliability(all)
	w.snapshotTestimonies(all)
	counts, err := w.db.CountByStatus(ctx, "")
	require.NoError(w, err)
	policy, err := w.db.Policy(ctx)
	require.NoError(w, err)
	all["counts"], all["policy"] = counts, policy
	return all
}

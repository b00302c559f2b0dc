package modelstest

import (
	"fmt"
	"strings"
	"time"

	"github.com/stretchr/testify/require"

	"revidit/models/blob"
	"revidit/review"
	"revidit/review/confidence"
	"revidit/review/judgement"
	"revidit/review/service"
)

// settlements hold what settles, and what is answered on the way, to what is true at that moment. They go through the real
// service. Invented people: Ada and Ben are members, Rita, Rolf and Rosa reviewers, Cora a curator.
var settlements = map[string]func(fixture){
	"an opinion settles on what was said of another determination": opinionAfterSiblingDispute,
	"an opinion settles on what is known of people now":            opinionAfterRefit,
	"authority settles on what is known of people now":             authorityAfterRefit,
	"a reply settles on what was said of another determination":    replyAfterSiblingDispute,
	"a reply answers what is shown":                                replyToShown,
	"a sealed reply tells nothing of a dispute":                    replyTellsNothing,
	"what is closed keeps one number":                              closedNumber,
}

// meeting is a club in which people act through the service.
type meeting struct {
	fixture
	service *service.Service
	clock   time.Time
	actors  map[string]review.Actor
}

func newMeeting(f fixture, policy review.Policy) *meeting {
	f.Helper()
	m := &meeting{fixture: f, clock: noon, actors: map[string]review.Actor{}}
	ids := 0
	m.service = service.NewService(f.db, &blob.Mem{}, service.NewLibrary(Tables(f.T)), service.Options{
		Now:   func() time.Time { m.clock = m.clock.Add(time.Minute); return m.clock },
		NewID: func() string { ids++; return fmt.Sprintf("id-%03d", ids) },
		Seed:  func() string { return "" },
	})
	for name, role := range map[string]review.Role{"ada": review.RoleMember, "ben": review.RoleMember, "rita": review.RoleReviewer,
		"rolf": review.RoleReviewer, "rosa": review.RoleReviewer, "cora": review.RoleCurator} {
		a := account(name, name, "Name of "+name)
		a.Role = role
		require.NoError(f, f.db.CreateAccount(f.Context(), a))
		m.actors[name] = review.Actor{Person: name, Name: a.Name, Role: role}
	}
	policy.Reason = "for the test"
	_, err := m.service.SetPolicy(f.Context(), m.actors["cora"], service.AnyVersion, policy)
	require.NoError(f, err)
	return m
}

// byNumber settles on two independent reviewers who agree, whoever they are and from photos too.
func byNumber() review.Policy {
	p := review.DefaultPolicy()
	p.Reviewers, p.OneSuffices = 2, false
	return p
}

// easy settles on two who agree, where the name is likelier than not.
func easy() review.Policy {
	p := byNumber()
	p.Confidence, p.BlindRate, p.RecheckRate = 0.6, 0, 0
	return p
}

// submit puts a beetle with thread-like antennae and as many plates before reviewers.
func (m *meeting) submit(who, family, plates string) service.Done {
	m.Helper()
	done, err := m.service.SubmitNew(m.Context(), m.actors[who], m.form(who, family, plates), "")
	require.NoError(m, err)
	return done
}

// form is a new submission with a photo that was uploaded for it.
func (m *meeting) form(who, family, plates string) review.SubmissionForm {
	m.Helper()
	upload := review.Upload{Photo: review.Photo{ID: "photo-of-" + who, SHA256: strings.Repeat("5e", 32), Type: "image/jpeg", Width: 1, Height: 1, By: who, At: noon}}
	require.NoError(m, m.db.SaveUpload(m.Context(), upload))
	return review.SubmissionForm{Family: family, Label: review.Label{CatalogueNumber: "A-1"}, Photos: []review.PhotoForm{{Photo: upload.ID, View: "antenna"}},
		Observations: []review.ObservationForm{{Character: "antenna-form", State: "filiform"}, {Character: "ventrites", State: plates}}}
}

func (m *meeting) review(who, id string, form review.ReviewForm) (service.Done, error) {
	return m.service.Review(m.Context(), m.actors[who], id, service.AnyVersion, form)
}

func (m *meeting) reviewed(who, id string, form review.ReviewForm) service.Done {
	m.Helper()
	done, err := m.review(who, id, form)
	require.NoError(m, err)
	return done
}

func (m *meeting) view(who, id string) service.SubmissionView {
	m.Helper()
	v, err := m.service.View(m.Context(), m.actors[who], id)
	require.NoError(m, err)
	return v
}

// agreed is the opinion that the name is right, and nothing else.
func agreed() review.ReviewForm {
	return review.ReviewForm{Opinion: &review.OpinionForm{Kind: review.OpinionAgrees, Basis: review.BasisPhotos}}
}

func verdictOn(observation string, kind review.VerdictKind, better string) review.ReviewForm {
	return review.ReviewForm{Verdicts: []review.VerdictForm{{Observation: observation, Kind: kind, Better: better}}}
}

// twoOpen are two open determinations of one specimen that cite the same observations: one was redetermined and reopened.
func (m *meeting) twoOpen(first service.Done) (second service.Done) {
	m.Helper()
	second, err := m.service.Redetermine(m.Context(), m.actors["cora"], first.ID, service.AnyVersion, review.RedetermineForm{Family: "Buprestidae", Reason: "the plates"})
	require.NoError(m, err)
	_, err = m.service.Reopen(m.Context(), m.actors["cora"], first.ID, service.AnyVersion, "both are to be looked at")
	require.NoError(m, err)
	return second
}

// requireOneNumber: a closed determination is said to have been closed with the number that page and list show.
func (m *meeting) requireOneNumber(id string) {
	m.Helper()
	view := m.view("ada", id)
	lines, _, err := m.service.Find(m.Context(), m.actors["ben"], service.SubmissionFilter{}, service.Page{})
	require.NoError(m, err)
	for _, l := range lines {
		if l.ID == id {
			require.Equal(m, view.Assessment.Confidence, l.Confidence, "page and list")
		}
	}
	if s := view.Submission.Settlement; s != nil {
		require.Equal(m, s.Confidence, view.Assessment.Confidence, "settlement and page")
	}
}

func opinionAfterSiblingDispute(f fixture) {
	m := newMeeting(f, easy())
	first := m.submit("ada", "Elateridae", "5")
	second := m.twoOpen(first)
	m.reviewed("rita", first.ID, agreed())
	before := f.submission(first.ID).Assessment.Confidence
	require.Greater(f, before, 0.6)
	antenna := first.Cites[0]
	for _, who := range []string{"rolf", "rosa"} {
		m.reviewed(who, second.ID, verdictOn(antenna, review.VerdictDispute, "clavate"))
	}
	got := m.reviewed("rolf", first.ID, agreed())
	require.Less(f, got.Assessment.Confidence, 0.6, "two say that the antenna is another one")
	require.Equal(f, review.StatusOpen, got.Status, "it would not carry the name")
	require.Equal(f, got.Assessment.Confidence, f.submission(first.ID).Assessment.Confidence)
}

// unreliable makes it known that somebody reads little better than by guessing.
func (m *meeting) unreliable(who string) {
	m.Helper()
	bad := known(40)
	bad.Regions = map[string]confidence.KnownAccuracy{}
	for _, region := range []string{"antenna", "underside"} {
		bad.Regions[region] = confidence.KnownAccuracy{Right: 20, Wrong: 30, Verdicts: 40, Blind: 40}
	}
	m.commit(event(review.ReliabilityStream("made-up"), 1, "cora", noon, learned("s", map[string]review.PersonKnown{who: bad})))
}

func opinionAfterRefit(f fixture) {
	m := newMeeting(f, easy())
	s := m.submit("ada", "Elateridae", "5")
	m.reviewed("rita", s.ID, agreed())
	stale := f.submission(s.ID).Assessment.Confidence
	m.unreliable("ada")
	shown := m.view("rita", s.ID).Assessment.Confidence
	require.Less(f, shown, stale)
	got := m.reviewed("rolf", s.ID, agreed())
	require.Equal(f, shown, got.Assessment.Confidence, "as the page said")
	require.Equal(f, shown >= 0.6, got.Status == review.StatusConfirmed)
	require.Equal(f, 1, got.Assessment.Reliability)
}

func authorityAfterRefit(f fixture) {
	policy := easy()
	policy.Experts = map[string][]string{"Elateridae": {"rita"}}
	m := newMeeting(f, policy)
	s := m.submit("ada", "Elateridae", "5")
	m.unreliable("ada")
	shown := m.view("ben", s.ID).Assessment.Confidence
	got, err := m.service.Settle(f.Context(), m.actors["rita"], s.ID, service.AnyVersion, "compared with named ones")
	require.NoError(f, err)
	require.Equal(f, review.StatusConfirmed, got.Status)
	require.Equal(f, shown, got.Settlement.Confidence)
	require.NotEqual(f, s.Assessment.Confidence, shown)
	m.requireOneNumber(s.ID)
}

func replyAfterSiblingDispute(f fixture) {
	m := newMeeting(f, easy())
	first := m.submit("ada", "Elateridae", "6") // never in Elateridae, but misread often enough
	second := m.twoOpen(first)
	for _, who := range []string{"rita", "rolf"} {
		m.reviewed(who, first.ID, agreed())
	}
	for _, who := range []string{"rita", "rolf", "rosa"} {
		m.reviewed(who, second.ID, verdictOn(first.Cites[0], review.VerdictDispute, "clavate"))
	}
	now := m.view("rita", first.ID).Assessment.Confidence
	got, err := m.service.Reply(f.Context(), m.actors["rita"], first.ID, service.AnyVersion,
		review.ReplyForm{Kind: judgement.Excluded, Character: "ventrites", State: "6", Reason: "a fold at the tip"})
	require.NoError(f, err)
	require.Equal(f, now, got.Assessment.Confidence)
	require.Equal(f, review.StatusOpen, got.Status)
}

func replyToShown(f fixture) {
	m := newMeeting(f, easy())
	s := m.submit("ada", "Elateridae", "5")
	form := review.ReplyForm{Kind: judgement.Excluded, Character: "ventrites", State: "6", Reason: "a fold at the tip"}
	for _, who := range []string{"rita", "rolf"} {
		m.reviewed(who, s.ID, verdictOn(s.Cites[1], review.VerdictDispute, "6"))
	}
	_, err := m.service.Reply(f.Context(), m.actors["rita"], s.ID, service.AnyVersion, form)
	require.NoError(f, err, "she sees what both said")
}

// replyTellsNothing: whoever is sealed gets the same answer in a club where others disputed and in one where nobody did.
func replyTellsNothing(f fixture) {
	m := newMeeting(f, easy())
	answers := map[bool][]string{}
	for i, disputed := range []bool{true, false} {
		owner := []string{"ada", "ben"}[i]
		s := m.submit(owner, "Elateridae", "5")
		if disputed {
			m.reviewed("rita", s.ID, verdictOn(s.Cites[1], review.VerdictDispute, "6"))
			m.reviewed("rolf", s.ID, verdictOn(s.Cites[1], review.VerdictDispute, "6"))
		}
		for _, reason := range []string{"", "a fold at the tip"} {
			for _, state := range []string{"5", "6"} {
				_, err := m.service.Reply(f.Context(), m.actors["rosa"], s.ID, service.AnyVersion,
					review.ReplyForm{Kind: judgement.Excluded, Character: "ventrites", State: state, Reason: reason})
				require.Error(f, err)
				answers[disputed] = append(answers[disputed], err.Error())
			}
		}
	}
	require.Equal(f, answers[false], answers[true])
}

func closedNumber(f fixture) {
	m := newMeeting(f, easy())
	s := m.submit("ada", "Elateridae", "5")
	m.reviewed("rita", s.ID, agreed())
	require.Equal(f, review.StatusConfirmed, m.reviewed("rolf", s.ID, agreed()).Status)
	m.requireOneNumber(s.ID)
	require.Nil(f, m.view("ada", s.ID).Today, "nothing has changed since")
	events, err := f.db.Events(f.Context(), review.SubmissionStream(s.ID))
	require.NoError(f, err)
	require.IsType(f, &review.Assessed{}, events[len(events)-2].Change)
	require.IsType(f, &review.OpinionGiven{}, events[len(events)-3].Change, "assessed once")
	m.unreliable("ada")
	m.requireOneNumber(s.ID)
	view := m.view("ada", s.ID)
	require.NotNil(f, view.Today)
	require.Less(f, view.Today.Confidence, view.Assessment.Confidence)

	given := m.submit("ben", "Elateridae", "5")
	done, err := m.service.Undetermine(f.Context(), m.actors["rita"], given.ID, service.AnyVersion, "worn")
	require.NoError(f, err)
	require.Equal(f, review.StatusUndetermined, done.Status)
	m.requireOneNumber(given.ID)
}

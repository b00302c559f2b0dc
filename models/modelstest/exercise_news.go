package modelstest

import (
	"fmt"
	"time"

	"github.com/stretchr/testify/require"

	"revidit/auth"
	"revidit/review"
	"revidit/review/service"
)

var newses = map[string]func(fixture){
	"news is told to whom it concerns, once": newsToldOnce,
	"news is read one by one and until then": newsRead,
	"news is listed page by page":            newsPaged,
	"news of a proposal goes to curators":    newsOfProposals,
	"news expires, and goes with its person": newsGoes,
	"unread news is counted so far":          newsCounted,
}

// told is everything that a person is told, the latest first.
func (f fixture) told(person string) []service.NewsLine {
	f.Helper()
	lines, next, err := f.db.FindNews(f.Context(), service.NewsFilter{Person: person, Codes: review.NewsCodes}, service.Page{Size: 200})
	require.NoError(f, err)
	require.Empty(f, next)
	return lines
}

func (f fixture) unread(person string) int {
	f.Helper()
	n, err := f.db.CountNews(f.Context(), service.NewsFilter{Person: person, Codes: review.NewsCodes})
	require.NoError(f, err)
	return n
}

// returned is a submission of Ada's that Rita has looked at and returned.
func (f fixture) returned(id string) {
	f.Helper()
	stream := review.SubmissionStream(id)
	f.add(entry{id: id, owner: "ada", catalogue: "AB-1", family: "Elateridae", group: "adults"})
	f.commit(event(stream, 4, "rita", noon.Add(time.Hour), &review.VerdictsGiven{Verdicts: []review.Verdict{
		{Observation: "o", Kind: review.VerdictDispute, By: "rita"}, {Observation: "p", Kind: review.VerdictConfirm, By: "rita"}}}),
		event(stream, 5, "rita", noon.Add(time.Hour), &review.OpinionGiven{Opinion: review.Opinion{Kind: review.OpinionAnother, By: "rita"}}))
	f.commit(event(stream, 6, "rita", noon.Add(2*time.Hour), &review.Returned{Return: review.Return{ID: "r", Want: review.WantPhoto, View: "below", By: "rita"}}))
}

func newsToldOnce(f fixture) {
	f.returned("s")
	told := f.told("ada")
	require.Len(f, told, 2)
	require.Equal(f, service.NewsLine{CatalogueNumber: "AB-1", Status: review.StatusReturned, Family: "Elateridae", Owner: "ada",
		News: review.News{ID: told[0].ID, Person: "ada", Code: review.NewsReturned, Group: "adults", Submission: "s", Specimen: "s", Actor: "rita",
			At: noon.Add(2 * time.Hour), About: review.NewsAbout{Want: review.WantPhoto, View: "below"}}}, told[0])
	require.Equal(f, review.NewsDisputed, told[1].Code)
	require.Equal(f, review.NewsAbout{Disputed: 1, Name: review.OpinionAnother}, told[1].About)
	require.Empty(f, f.told("rita"), "nobody is told what they did")

	again := told[0].News
	again.About.View = "above"
	require.NoError(f, f.db.Commit(f.Context(), review.Batch{News: []review.News{again}}))
	require.Equal(f, told, f.told("ada"), "told once")

	f.commit(event(review.SubmissionStream("s"), 7, "ada", noon.Add(3*time.Hour), &review.Answered{Answer: review.Answer{By: "ada"}}))
	require.Len(f, f.told("rita"), 1, "who asked and who has looked is one person")
	require.Equal(f, review.NewsAnswered, f.told("rita")[0].Code)
	f.commit(event(review.SubmissionStream("s"), 8, "cora", noon.Add(4*time.Hour), &review.Confirmed{}))
	require.Equal(f, review.NewsConfirmed, f.told("ada")[0].Code)
	require.Equal(f, review.NewsConfirmed, f.told("rita")[0].Code)
	require.Empty(f, f.told("rolf"))
}

func newsRead(f fixture) {
	f.returned("s")
	require.Equal(f, 2, f.unread("ada"))
	latest, now := f.told("ada")[0], noon.Add(9*time.Hour)
	_, err := f.db.ReadNews(f.Context(), "ben", latest.ID, now)
	require.Equal(f, review.KindNotFound, review.KindOf(err), "somebody else's")
	require.Equal(f, 2, f.unread("ada"))
	read, err := f.db.ReadNews(f.Context(), "ada", latest.ID, now)
	require.NoError(f, err)
	require.Equal(f, now, *read.ReadAt)
	read, err = f.db.ReadNews(f.Context(), "ada", latest.ID, now.Add(time.Hour))
	require.NoError(f, err)
	require.Equal(f, now, *read.ReadAt, "read once")
	require.Equal(f, 1, f.unread("ada"))
	require.NoError(f, f.db.ReadNewsUntil(f.Context(), "ada", noon, now))
	require.Equal(f, 1, f.unread("ada"), "it is later")
	require.NoError(f, f.db.ReadNewsUntil(f.Context(), "ada", noon.Add(time.Hour), now))
	require.Zero(f, f.unread("ada"))
	require.NoError(f, f.db.Rebuild(f.Context()))
	require.Zero(f, f.unread("ada"), "what was read stays read")
	require.Len(f, f.told("ada"), 2)
}

func newsPaged(f fixture) {
	var batch review.Batch
	for i := range 7 {
		batch.News = append(batch.News, review.News{ID: fmt.Sprint("n", i), Person: "ada", Code: review.NewsDoubted, Actor: "program", At: noon.Add(time.Duration(i/2) * time.Hour)})
	}
	batch.News = append(batch.News, review.News{ID: "of-ben", Person: "ben", Code: review.NewsDoubted, Actor: "program", At: noon})
	require.NoError(f, f.db.Commit(f.Context(), batch))
	var ids []string
	page := service.Page{Size: 3}
	for {
		lines, next, err := f.db.FindNews(f.Context(), service.NewsFilter{Person: "ada", Codes: review.NewsCodes}, page)
		require.NoError(f, err)
		for _, l := range lines {
			ids = append(ids, l.ID)
		}
		if page.Cursor = next; next == "" {
			break
		}
	}
	require.Equal(f, []string{"n6", "n5", "n4", "n3", "n2", "n1", "n0"}, ids)
	lines, _, err := f.db.FindNews(f.Context(), service.NewsFilter{Person: "ada", Codes: []review.NewsCode{review.NewsReturned}}, page)
	require.NoError(f, err)
	require.Empty(f, lines, "no news of that kind")
	after := noon.Add(2 * time.Hour)
	lines, _, err = f.db.FindNews(f.Context(), service.NewsFilter{Person: "ada", Codes: review.NewsCodes, After: &after}, page)
	require.NoError(f, err)
	require.Len(f, lines, 1)
	_, _, err = f.db.FindNews(f.Context(), service.NewsFilter{Person: "ada", Codes: review.NewsCodes}, service.Page{Size: 3, Cursor: "{}"})
	require.Equal(f, review.KindInvalid, review.KindOf(err))
}

func newsOfProposals(f fixture) {
	stream := review.ProposalStream("p")
	batch := f.batch(event(stream, 1, "cora", noon, &review.CellProposed{ID: "p", Group: "adults"}))
	require.True(f, batch.TellsCurators())
	batch.Curators = []string{"carl", "cora"}
	require.NoError(f, f.db.Commit(f.Context(), batch))
	require.Empty(f, f.told("cora"))
	require.Equal(f, review.NewsProposalWaits, f.told("carl")[0].Code)
	require.Equal(f, review.ProposalOpen, f.told("carl")[0].ProposalStatus)
	f.commit(event(stream, 2, "carl", noon.Add(time.Hour), &review.CellProposalDecided{Status: review.ProposalRefused, Reason: "no"}))
	require.Equal(f, review.NewsAbout{Decision: review.ProposalRefused}, f.told("cora")[0].About)
	require.Len(f, f.told("carl"), 1)
	require.Equal(f, review.ProposalRefused, f.told("carl")[0].ProposalStatus, "it waits no more")
}

func newsGoes(f fixture) {
	require.NoError(f, f.db.CreateAccount(f.Context(), auth.Account{Person: "ada", Login: "ada", Role: review.RoleMember, CreatedAt: noon}))
	f.returned("s")
	require.Equal(f, 1, f.expire(service.Expiry{News: noon.Add(90 * time.Minute)}))
	require.Len(f, f.told("ada"), 1)
	require.NoError(f, f.db.ErasePerson(f.Context(), review.Actor{}, "ada", "left the club"))
	require.Empty(f, f.told("ada"))
}

func newsCounted(f fixture) {
	var batch review.Batch
	for i := range service.MostNewsCounted + 20 {
		batch.News = append(batch.News, review.News{ID: fmt.Sprint("n", i), Person: "ada", Code: review.NewsDoubted, Actor: "program", At: noon})
	}
	require.NoError(f, f.db.Commit(f.Context(), batch))
	require.Equal(f, service.MostNewsCounted+1, f.unread("ada"))
}

package modelstest

import (
	"context"
	"encoding/json"
	"fmt"
	"strings"
	"sync"

	"github.com/stretchr/testify/require"

	"revidit/models/blob"
	"revidit/review"
	"revidit/review/service"
)

// onces hold what is asked for twice to being done once. They go through the real service.
var onces = map[string]func(fixture){
	"fifty requests for a submission under one key make one":      fiftySubmissions,
	"fifty requests for a verdict under one key give one":         fiftyVerdicts,
	"of fifty who want one photo one gets it, and others hear so": fiftyForOnePhoto,
	"a key stands for one request":                                otherRequest,
	"a request that fails takes no key":                           failedRequest,
}

const atOnceAsked = 50

// newCrowd is a meeting whose service numbers things in a way that many may use at once.
func newCrowd(f fixture, policy review.Policy) *meeting {
	f.Helper()
	m := newMeeting(f, policy)
	m.service = service.NewService(f.db, &blob.Mem{}, service.NewLibrary(Tables(f.T)), service.Options{Seed: func() string { return "" }})
	return m
}

func (m *meeting) photo(id, by string) {
	m.Helper()
	upload := review.Upload{Photo: review.Photo{ID: id, SHA256: strings.Repeat("5e", 32), Type: "image/jpeg", Width: 1, Height: 1, By: by, At: noon}}
	require.NoError(m, m.db.SaveUpload(m.Context(), upload))
}

func clickBeetle(number, photo string) review.SubmissionForm {
	return review.SubmissionForm{Family: "Elateridae", Label: review.Label{CatalogueNumber: number}, Photos: []review.PhotoForm{{Photo: photo, View: "antenna"}},
		Observations: []review.ObservationForm{{Character: "antenna-form", State: "filiform", Photo: photo}, {Character: "ventrites", State: "5"}}}
}

// askedAtOnce asks for the same thing many times at once.
func askedAtOnce[T any](ask func(i int) (T, error)) ([]T, []error) {
	answers, errs := make([]T, atOnceAsked), make([]error, atOnceAsked)
	var all sync.WaitGroup
	for i := range atOnceAsked {
		all.Go(func() { answers[i], errs[i] = ask(i) })
	}
	all.Wait()
	return answers, errs
}

// requireEqualAnswers requires that everybody was answered with the same view.
func (m *meeting) requireEqualAnswers(who string, answers []service.Done, errs []error) {
	m.Helper()
	texts := map[string]bool{}
	for i, answer := range answers {
		require.NoError(m, errs[i])
		v, err := m.service.ViewDone(m.Context(), m.actors[who], answer)
		require.NoError(m, err)
		text, err := json.Marshal(v)
		require.NoError(m, err)
		texts[string(text)] = true
	}
	require.Len(m, texts, 1, "every answer is the same")
}

func fiftySubmissions(f fixture) {
	m := newCrowd(f, easy())
	m.photo("p", "ada")
	form := clickBeetle("A-1", "p")
	answers, errs := askedAtOnce(func(int) (service.Done, error) { return m.service.SubmitNew(f.Context(), m.actors["ada"], form, "k") })
	m.requireEqualAnswers("ada", answers, errs)
	require.Len(f, f.find(service.SubmissionFilter{}, 10), 1)

	// A form that brings its file along stores it anew each time that it is sent: the photo is the same one.
	m.photo("again", "ada")
	form = clickBeetle("A-1", "again")
	again, err := m.service.SubmitNew(f.Context(), m.actors["ada"], form, "k")
	require.NoError(f, err)
	require.Equal(f, answers[0].ID, again.ID)
	require.Len(f, f.find(service.SubmissionFilter{}, 10), 1)
}

func fiftyVerdicts(f fixture) {
	m := newCrowd(f, byNumber())
	for _, photo := range []string{"p", "q"} {
		m.photo(photo, "ada")
		open, err := m.service.SubmitNew(f.Context(), m.actors["ada"], clickBeetle("A-1", photo), "")
		require.NoError(f, err)
		version := service.AnyVersion
		if photo == "q" {
			version = m.view("ada", open.ID).Version
		}
		form := verdictOn(open.Cites[0], review.VerdictConfirm, "")
		_, errs := askedAtOnce(func(int) (string, error) {
			return m.service.Once(f.Context(), m.actors["rita"], "k of "+photo, form, func(ctx context.Context) error {
				_, err := m.service.Review(ctx, m.actors["rita"], open.ID, version, form)
				return err
			})
		})
		for _, err := range errs {
			require.NoError(f, err)
		}
		require.Equal(f, 1, f.countEvents(review.SubmissionStream(open.ID), "verdicts-given"))
	}
}

// countEvents counts the events of a kind in a stream.
func (f fixture) countEvents(stream, kind string) int {
	f.Helper()
	events, err := f.db.Events(f.Context(), stream)
	require.NoError(f, err)
	n := 0
	for _, e := range events {
		if e.Change.EventKind() == kind {
			n++
		}
	}
	return n
}

func fiftyForOnePhoto(f fixture) {
	m := newCrowd(f, easy())
	m.photo("p", "ada")
	answers, errs := askedAtOnce(func(i int) (service.Done, error) {
		return m.service.SubmitNew(f.Context(), m.actors["ada"], clickBeetle(fmt.Sprint("A-", i), "p"), fmt.Sprint("k", i))
	})
	made := 0
	for i, err := range errs {
		if err == nil {
			require.NotEmpty(f, answers[i].ID, "success says what was made")
			made++
			continue
		}
		require.Contains(f, []review.Kind{review.KindInvalid, review.KindConflict}, review.KindOf(err), "%v", err)
	}
	require.Equal(f, 1, made)
	require.Len(f, f.find(service.SubmissionFilter{}, 10), 1)
}

func otherRequest(f fixture) {
	m := newCrowd(f, easy())
	m.photo("p", "ada")
	m.photo("q", "ben")
	_, err := m.service.SubmitNew(f.Context(), m.actors["ada"], clickBeetle("A-1", "p"), "k")
	require.NoError(f, err)
	_, err = m.service.SubmitNew(f.Context(), m.actors["ada"], clickBeetle("A-2", "p"), "k")
	requireKind(f.T, review.KindConflict, err)
	_, err = m.service.Draft(f.Context(), m.actors["ada"], clickBeetle("A-1", "p"), "k")
	requireKind(f.T, review.KindConflict, err)
	_, err = m.service.SubmitNew(f.Context(), m.actors["ben"], clickBeetle("B-1", "q"), "k")
	require.NoError(f, err, "keys are each person's own")
}

func failedRequest(f fixture) {
	m := newCrowd(f, easy())
	m.photo("p", "ada")
	wrong := clickBeetle("A-1", "p")
	wrong.Family = "Nosuchidae"
	_, err := m.service.SubmitNew(f.Context(), m.actors["ada"], wrong, "k")
	requireKind(f.T, review.KindInvalid, err)
	_, err = m.service.SubmitNew(f.Context(), m.actors["ada"], clickBeetle("A-1", "p"), "k")
	require.NoError(f, err)
	_, err = m.service.MadeUnder(f.Context(), m.actors["ada"], "another")
	requireKind(f.T, review.KindNotFound, err)
}

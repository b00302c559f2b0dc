package modelstest

import (
	"errors"
	"fmt"
	"sync"
	"sync/atomic"
	"time"

	"github.com/stretchr/testify/require"

	"revidit/auth"
	"revidit/review"
	"revidit/review/service"
)

var holds = map[string]func(fixture){
	"what somebody holds is listed":               holdingsListed,
	"nobody holds more than the policy lets them": holdsBounded,
	"curators are those who can act":              curatorsListed,
}

var holdsAtOnce = map[string]func(fixture){
	"of holds at once no more pass than are given": holdsInARace,
}

func (f fixture) holdings(person string, at time.Time) []string {
	f.Helper()
	found, err := f.db.Holdings(f.Context(), person, at)
	require.NoError(f, err)
	numbers := []string{}
	for _, h := range found {
		numbers = append(numbers, h.CatalogueNumber)
	}
	return numbers
}

func holdingsListed(f fixture) {
	for i, who := range []string{"rex", "rex", "uma"} {
		id := fmt.Sprint("s", i)
		f.add(entry{id: id, owner: "ada", catalogue: fmt.Sprint("N-", i), family: "Elateridae", group: "adults"})
		f.commit(event(review.SubmissionStream(id), 4, who, noon, &review.Held{Until: noon.Add(time.Duration(10-i) * time.Minute)}))
	}
	require.Equal(f, []string{"N-1", "N-0"}, f.holdings("rex", noon), "the one that runs out first first")
	require.Equal(f, []string{"N-0"}, f.holdings("rex", noon.Add(9*time.Minute)), "not at the time at which it has run out")
	require.Equal(f, []string{"N-2"}, f.holdings("uma", noon))
	for _, nobody := range []string{"ada", "", "rex\x00"} {
		require.Empty(f, f.holdings(nobody, noon))
	}
	f.commit(event(review.SubmissionStream("s1"), 5, "rex", noon, &review.HoldEnded{}))
	require.Equal(f, []string{"N-0"}, f.holdings("rex", noon))
}

func holdsBounded(f fixture) {
	policy := easy()
	policy.HoldsAtOnce = 2
	m := newMeeting(f, policy)
	hold := func(who, id string) error {
		_, err := m.service.Hold(m.Context(), m.actors[who], id, service.AnyVersion)
		return err
	}
	ids := []string{m.submit("ada", "Elateridae", "5").ID, m.submit("ben", "Elateridae", "5").ID, m.submit("rosa", "Elateridae", "5").ID}
	require.NoError(f, hold("rita", ids[0]))
	require.NoError(f, hold("rita", ids[1]))
	require.NoError(f, hold("rita", ids[1]), "holding again extends it")
	err := hold("rita", ids[2])
	requireKind(f.T, review.KindConflict, err)
	require.NotErrorIs(f, err, service.ErrRace)
	require.Regexp(f, `A-1 \(until \d\d:\d\d UTC\), A-1 \(until`, err.Error(), "it names what is held")
	require.Nil(f, f.submission(ids[2]).Hold)
	require.NoError(f, hold("rolf", ids[2]), "each has a count of their own")

	_, err = m.service.EndHold(m.Context(), m.actors["rita"], ids[0], service.AnyVersion)
	require.NoError(f, err)
	_, err = m.service.EndHold(m.Context(), m.actors["rolf"], ids[2], service.AnyVersion)
	require.NoError(f, err)
	require.NoError(f, hold("rita", ids[2]))
	m.clock = m.clock.Add(time.Hour)
	require.NoError(f, hold("rita", ids[0]), "what has run out is not held")
}

func curatorsListed(f fixture) {
	newMeeting(f, easy())
	second := account("carl", "carl", "Carl")
	second.Role = review.RoleCurator
	require.NoError(f, f.db.CreateAccount(f.Context(), second))
	is := func(want ...string) {
		f.Helper()
		got, err := f.db.Curators(f.Context())
		require.NoError(f, err)
		require.Equal(f, append([]string{}, want...), got)
	}
	is("carl", "cora")
	require.NoError(f, f.db.ChangeAccount(f.Context(), "carl", auth.AccountChange{Disabled: new(true)}))
	is("cora")
	require.NoError(f, f.db.ErasePerson(f.Context(), review.Actor{}, "carl", "left the club"))
	is("cora")
	require.NoError(f, f.db.ChangeAccount(f.Context(), "cora", auth.AccountChange{Role: new(review.RoleMember)}))
	is()
}

// holdsInARace: each act holds another submission, so that no stream is written twice, and none has seen the others.
func holdsInARace(f fixture) {
	const racers, most = 8, 3
	require.NoError(f, f.db.CreateAccount(f.Context(), account("rex", "rex", "Rex")))
	batches := make([]review.Batch, racers)
	for i := range racers {
		id := fmt.Sprint("s", i)
		f.add(entry{id: id, owner: "ada", catalogue: id, family: "Elateridae", group: "adults"})
		batches[i] = f.batch(event(review.SubmissionStream(id), 4, "rex", noon, &review.Held{Until: noon.Add(time.Hour)}))
		batches[i].Rests = f.rests(id)
		batches[i].Rests.Holds = &review.MostHeld{Person: "rex", At: noon, Most: most}
	}
	var passed atomic.Int32
	var group sync.WaitGroup
	failed := make(chan error, racers)
	for _, batch := range batches {
		group.Go(func() {
			err := f.db.Commit(f.Context(), batch)
			switch {
			case err == nil:
				passed.Add(1)
			case !errors.Is(err, service.ErrRace):
				failed <- err
			}
		})
	}
	group.Wait()
	require.Empty(f, failed)
	require.EqualValues(f, most, passed.Load())
	require.Len(f, f.holdings("rex", noon), most)
}

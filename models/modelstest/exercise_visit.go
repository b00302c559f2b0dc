package modelstest

import (
	"time"

	"github.com/stretchr/testify/require"

	"revidit/auth"
	"revidit/review"
)

var visits = map[string]func(fixture){
	"a first visit goes on where it was left, and stays finished": visitGoesOn,
	"who has done something here is known":                        hasActed,
}

func visitGoesOn(f fixture) {
	require.NoError(f, f.db.CreateAccount(f.Context(), auth.Account{Person: "ada", Name: "Ada", Login: "ada", Role: review.RoleMember, CreatedAt: noon}))
	visit := func() review.Visit {
		v, err := f.db.Visit(f.Context(), "ada")
		require.NoError(f, err)
		return v
	}
	require.Equal(f, review.Visit{Person: "ada"}, visit())
	require.NoError(f, f.db.StoreVisit(f.Context(), review.Visit{Person: "ada", Step: 2}))
	require.Equal(f, review.Visit{Person: "ada", Step: 2}, visit())
	first, later := noon.UTC().Truncate(time.Microsecond), noon.Add(time.Hour)
	require.NoError(f, f.db.StoreVisit(f.Context(), review.Visit{Person: "ada", Step: 3, FinishedAt: &first}))
	require.NoError(f, f.db.StoreVisit(f.Context(), review.Visit{Person: "ada", Step: 3, FinishedAt: &later}))
	require.NoError(f, f.db.StoreVisit(f.Context(), review.Visit{Person: "ada", Step: 1}))
	require.Equal(f, review.Visit{Person: "ada", Step: 1, FinishedAt: &first}, visit(), "looked at again, and still finished")
	require.NoError(f, f.db.ErasePerson(f.Context(), review.Actor{}, "ada", "left the club"))
	require.Equal(f, review.Visit{Person: "ada"}, visit(), "it goes with its person")
}

func hasActed(f fixture) {
	acted := func(person string) bool {
		found, err := f.db.HasActed(f.Context(), person)
		require.NoError(f, err)
		return found
	}
	require.False(f, acted("ada"))
	require.False(f, acted("a\x00b"), "no database can hold it")
}

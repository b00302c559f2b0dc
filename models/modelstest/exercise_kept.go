package modelstest

import (
	"fmt"
	"time"

	"github.com/stretchr/testify/require"

	"revidit/review"
	"revidit/review/service"
)

var keptForms = map[string]func(fixture){
	"a form that outlived its login is its sender's alone": formIsKept,
	"of each person the latest forms are kept":             fewFormsAreKept,
	"a kept form expires":                                  formsExpire,
}

func keptForm(id, person string, at time.Time) review.KeptForm {
	return review.KeptForm{ID: id, Person: person, Path: "/submissions?x=1", At: at.UTC().Truncate(time.Microsecond),
		Values: map[string][]string{"remarks": {"a\n\"b\" <c>", "é"}, "empty": {""}}}
}

func formIsKept(f fixture) {
	kept := keptForm("one", "ada", time.Now())
	require.NoError(f, f.db.KeepForm(f.Context(), kept))
	found, err := f.db.KeptForm(f.Context(), "ada", "one")
	require.NoError(f, err)
	require.Equal(f, kept, found)
	for person, id := range map[string]string{"ben": "one", "ada": "two"} {
		_, err = f.db.KeptForm(f.Context(), person, id)
		require.Equal(f, review.KindNotFound, review.KindOf(err))
	}
}

func fewFormsAreKept(f fixture) {
	begin := time.Now()
	require.NoError(f, f.db.KeepForm(f.Context(), keptForm("of-ben", "ben", begin)))
	for i := range review.MostKept + 2 {
		require.NoError(f, f.db.KeepForm(f.Context(), keptForm(fmt.Sprint("ada-", i), "ada", begin.Add(time.Duration(i)*time.Second))))
	}
	for i := range review.MostKept + 2 {
		_, err := f.db.KeptForm(f.Context(), "ada", fmt.Sprint("ada-", i))
		require.Equal(f, i < 2, review.KindOf(err) == review.KindNotFound, i)
	}
	_, err := f.db.KeptForm(f.Context(), "ben", "of-ben")
	require.NoError(f, err)
}

func formsExpire(f fixture) {
	now := time.Now()
	require.NoError(f, f.db.KeepForm(f.Context(), keptForm("old", "ada", now.Add(-25*time.Hour))))
	require.NoError(f, f.db.KeepForm(f.Context(), keptForm("new", "ada", now)))
	require.Equal(f, 1, f.expire(service.Expiry{Forms: now.Add(-24 * time.Hour)}))
	_, err := f.db.KeptForm(f.Context(), "ada", "old")
	require.Equal(f, review.KindNotFound, review.KindOf(err))
	_, err = f.db.KeptForm(f.Context(), "ada", "new")
	require.NoError(f, err)
}

package models_test

import (
	"testing"

	"github.com/stretchr/testify/require"

	"revidit/models"
	"revidit/review"
)

func TestClubHasOneID(t *testing.T) {
	t.Parallel()
	for name, open := range databases {
		t.Run(name, func(t *testing.T) {
			t.Parallel()
			db := open(t)
			club, err := db.Club(t.Context())
			require.NoError(t, err)
			require.Equal(t, models.Club{Empty: true, Photos: []string{}}, club)
			require.NoError(t, db.SaveUpload(t.Context(), review.Upload{Photo: review.Photo{ID: "u", SHA256: sha(1), Type: "image/jpeg", Width: 1, Height: 1, By: "ada"}}))
			club, err = db.Club(t.Context())
			require.NoError(t, err)
			require.Equal(t, models.Club{Photos: []string{sha(1)}}, club)
			for _, asked := range []string{"first", "second"} {
				id, err := db.NameClub(t.Context(), asked)
				require.NoError(t, err)
				require.Equal(t, "first", id)
			}
			require.NoError(t, db.SettleClub(t.Context()))
			require.NoError(t, db.Rebuild(t.Context()))
			club, err = db.Club(t.Context())
			require.NoError(t, err)
			require.Equal(t, models.Club{ID: "first", Settled: true, Photos: []string{}}, club, "photos tell nothing more")
		})
	}
}

package main

import (
	"testing"

	"github.com/stretchr/testify/require"

	"revidit/models"
)

// TestTogether: which states of the three places are of one club. What must be refused is what loses photos or logins when
// it is not: our own reasoning, no source.
func TestTogether(t *testing.T) {
	const a, b = "A", "B"
	for name, c := range map[string]struct {
		is   belonging
		says string // empty: they are together
		id   string // that they would get
	}{
		"a new club":                    {belonging{club: models.Club{Empty: true}, noPhotos: true, noKey: true}, "", ""},
		"of a time without ids":         {belonging{club: models.Club{Photos: []string{"x"}}, known: true}, "", ""},
		"of that time, without photos":  {belonging{noPhotos: true}, "", ""},
		"begun, and cut off":            {belonging{club: models.Club{ID: a}, noKey: true}, "", a},
		"begun, and cut off later":      {belonging{club: models.Club{ID: a}, mark: a}, "", a},
		"settled":                       {belonging{club: models.Club{ID: a, Settled: true}, mark: a, keyClub: a}, "", a},
		"settled, with an empty folder": {belonging{club: models.Club{ID: a, Settled: true}, mark: a, keyClub: a, noPhotos: true}, "", a},

		"an empty database beside photos":   {belonging{club: models.Club{Empty: true}}, "the database is empty", ""},
		"a database without photos":         {belonging{}, "knows no photo", ""},
		"photos of which it knows none":     {belonging{club: models.Club{Photos: []string{"x"}}}, "none of the photos", ""},
		"a database of lost photos":         {belonging{club: models.Club{Photos: []string{"x"}}, noPhotos: true}, "not mounted", ""},
		"a new database beside a club":      {belonging{club: models.Club{Empty: true}, mark: a, keyClub: a}, "never been told", a},
		"a database from before the ids":    {belonging{mark: a, keyClub: a}, "never been told", a},
		"a key of a club alone":             {belonging{keyClub: a, noPhotos: true}, "never been told", a},
		"photos of another club":            {belonging{club: models.Club{ID: a, Settled: true}, mark: b, keyClub: a}, "the photos are of another club", a},
		"the key of another club":           {belonging{club: models.Club{ID: a, Settled: true}, mark: a, keyClub: b}, "the key is of another club", a},
		"begun beside photos of another":    {belonging{club: models.Club{ID: a}, mark: b}, "the photos are of another club", a},
		"the disk of photos is not mounted": {belonging{club: models.Club{ID: a, Settled: true}, keyClub: a, noPhotos: true}, "not mounted", a},
		"another photo folder":              {belonging{club: models.Club{ID: a, Settled: true}, keyClub: a}, "not mounted", a},
		"the key is missing":                {belonging{club: models.Club{ID: a, Settled: true}, mark: a, noKey: true}, "would end all logins", a},
		"another key":                       {belonging{club: models.Club{ID: a, Settled: true}, mark: a}, "does not name the club", a},
	} {
		t.Run(name, func(t *testing.T) {
			err := c.is.together()
			if c.id != "" {
				require.Equal(t, c.id, c.is.id())
			} else {
				require.NotEqual(t, c.is.id(), c.is.id(), "a random one")
			}
			if c.says == "" {
				require.NoError(t, err)
				return
			}
			require.ErrorContains(t, err, c.says)
			require.ErrorContains(t, err, "Nothing was changed")
			require.ErrorContains(t, err, "revidit migrate --adopt")
		})
	}
}

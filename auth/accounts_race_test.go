package auth_test

import (
	"sync"
	"testing"

	"github.com/stretchr/testify/require"

	"revidit/auth"
	"revidit/models"
	"revidit/models/modelstest"
	"revidit/review"
)

// TestNothingUndoesDisabling: eight people log out over and over while the account is disabled, its role and its password
// change. None of it writes back what it has read before.
func TestNothingUndoesDisabling(t *testing.T) {
	for name, open := range map[string]func(testing.TB) *models.DB{"SQLite": modelstest.SQLite, "Postgres": modelstest.Postgres} {
		t.Run(name, func(t *testing.T) {
			c := newClubAt(t, open(t), auth.Options{})
			account := c.join(t, "ada", review.RoleMember)
			const loops = 8
			done := make(chan struct{})
			failed := make(chan error, loops)
			var group sync.WaitGroup
			for range loops {
				group.Go(func() {
					for {
						select {
						case <-done:
							return
						default:
						}
						if err := c.LogoutEverywhere(t.Context(), account.Person); err != nil {
							failed <- err
							return
						}
					}
				})
			}
			for range 12 {
				require.NoError(t, c.Enable(t.Context(), "ada", "a test"))
				require.NoError(t, c.SetRole(t.Context(), "ada", review.RoleCurator, "a test"))
				require.NoError(t, c.SetPassword(t.Context(), "ada", "another long password"))
				require.NoError(t, c.Disable(t.Context(), "ada", "a test"))
			}
			close(done)
			group.Wait()
			require.Empty(t, failed)
			stored, err := c.store.AccountByLogin(t.Context(), "ada")
			require.NoError(t, err)
			require.True(t, stored.Disabled)
			require.Equal(t, review.RoleCurator, stored.Role)
			require.NotEqual(t, account.PasswordHash, stored.PasswordHash)
		})
	}
}

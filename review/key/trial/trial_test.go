package trial_test

import (
	"testing"

	"github.com/stretchr/testify/require"

	"revidit/review/diagnosis"
	"revidit/review/key"
	"revidit/review/key/trial"
)

// rostrum parts weevils from click beetles at one glance.
func rostrum(weevils string) *key.Key {
	return &key.Key{Families: []string{"Curculionidae", "Elateridae"}, Couplets: []key.Couplet{{Number: 1, Leads: [2]key.Lead{
		{Says: []key.Saying{{Character: "rostrum", States: []string{"long", "short-broad"}}}, Endings: []key.Ending{{Family: weevils}}},
		{Says: []key.Saying{{Character: "rostrum", States: []string{"none"}}}, Endings: []key.Ending{{Family: "Elateridae"}}}}}}}
}

// TestTrial: a couplet that every key begins with brings nearly all of both families to the right end, an expert's more often; one that
// names the wrong family brings none of it there. Equal courses give equal figures.
func TestTrial(t *testing.T) {
	course := trial.Course{Key: rostrum("Curculionidae"), Tables: diagnosis.Default(), Specimens: 1500, Seed: 7}
	beginner, err := course.Run(trial.Person{Accuracy: 0.85})
	require.NoError(t, err)
	expert, err := course.Run(trial.Person{Expert: true, Accuracy: 0.95})
	require.NoError(t, err)
	require.Greater(t, beginner.Right, 0.8)
	require.Greater(t, expert.Right, beginner.Right)
	require.Equal(t, 1.0, expert.Steps)
	again, err := course.Run(trial.Person{Accuracy: 0.85})
	require.NoError(t, err)
	require.Equal(t, beginner, again)

	course.Key = rostrum("Buprestidae")
	wrong, err := course.Run(trial.Person{Expert: true, Accuracy: 0.95})
	require.NoError(t, err)
	require.Zero(t, wrong.ByFamily["Curculionidae"])
}

// TestWeighed: who looks at everything and weighs it names more rightly than who takes one glance, and an expert more than a beginner.
func TestWeighed(t *testing.T) {
	tables := diagnosis.Default()
	families := []string{"Curculionidae", "Elateridae", "Cerambycidae", "Chrysomelidae"}
	course := trial.Course{Key: &key.Key{Families: families}, Tables: tables, Specimens: 600, Seed: 7}
	beginner, _, err := course.Weighed(trial.Person{Accuracy: 0.85})
	require.NoError(t, err)
	expert, off, err := course.Weighed(trial.Person{Expert: true, Accuracy: 0.95})
	require.NoError(t, err)
	require.Greater(t, expert, beginner)
	require.Greater(t, beginner, 0.85)
	require.InDelta(t, 0.01, off, 0.01)
	_, _, err = trial.Course{Key: &key.Key{}, Tables: tables, Specimens: 1}.Weighed(trial.Person{Accuracy: 0.9})
	require.ErrorIs(t, err, trial.ErrNothing)
}

func TestNothingToTry(t *testing.T) {
	_, err := trial.Course{Key: &key.Key{}, Tables: diagnosis.Default(), Specimens: 1}.Run(trial.Person{Accuracy: 0.9})
	require.ErrorIs(t, err, trial.ErrNothing)
}

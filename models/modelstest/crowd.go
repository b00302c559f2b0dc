package modelstest

import (
	"fmt"
	"math/rand/v2"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"revidit/models"
	"revidit/review"
	"revidit/review/diagnosis"
	"revidit/review/judgement"
)

// Crowd stores n specimens of a group in a database, each with observations of one family, a submission and what two of
// thirty reviewers said of it, right nine times in ten; every other one looked at the first observation blind. They are
// closed, or stay open with an assessment by tables that nobody has. The same n gives the same crowd.
func Crowd(t testing.TB, db *models.DB, tables *diagnosis.Tables, prefix string, n int, closed bool) {
	t.Helper()
	c := crowd{tables: tables, dice: rand.New(rand.NewPCG(11, uint64(n)))}
	const atOnce = 200
	for from := 0; from < n; from += atOnce {
		var batch review.Batch
		for i := from; i < min(from+atOnce, n); i++ {
			c.add(t, &batch, fmt.Sprintf("%s-%07d", prefix, i), noon.Add(time.Duration(i)*time.Second), closed)
		}
		require.NoError(t, db.Commit(t.Context(), batch))
	}
}

type crowd struct {
	tables *diagnosis.Tables
	dice   *rand.Rand
}

func (c *crowd) add(t testing.TB, batch *review.Batch, id string, at time.Time, closed bool) {
	t.Helper()
	family := c.tables.Families[c.dice.IntN(len(c.tables.Families))].Name
	seen, cites := c.observations(id, at)
	specimen := []review.Event{
		event(review.SpecimenStream(id), 1, "ada", at, &review.SpecimenRegistered{ID: id}),
		event(review.SpecimenStream(id), 2, "ada", at, &review.ObservationsRecorded{Observations: seen}),
	}
	changes := []review.Change{
		&review.Drafted{ID: id, Proposal: review.Proposal{Group: c.tables.Group.ID, Specimen: id, Cites: cites,
			Determination: review.Determination{Family: family, Determiner: "ada"}}},
		&review.Submitted{},
	}
	changes = append(changes, c.said(seen, at)...)
	changes = append(changes, &review.Assessed{Assessment: judgement.Assessment{Family: family, Confidence: 0.5, TablesHash: "of-nobody"}})
	if closed {
		changes = append(changes, &review.Undetermined{Reason: "worn"}, &review.RecheckDrawn{Rate: 0.5, Panel: 1},
			&review.PanelOpinionGiven{Opinion: review.PanelOpinion{Family: family, By: "pat", At: at}})
	}
	var submission []review.Event
	for i, change := range changes {
		submission = append(submission, event(review.SubmissionStream(id), i+1, "rex", at, change))
	}
	spec, err := review.ReplaySpecimen(specimen)
	require.NoError(t, err)
	sub, err := review.ReplaySubmission(submission)
	require.NoError(t, err)
	batch.Events = append(append(batch.Events, specimen...), submission...)
	batch.Specimens, batch.Submissions = append(batch.Specimens, spec), append(batch.Submissions, sub)
}

// observations are on up to eight characters.
func (c *crowd) observations(id string, at time.Time) (seen []review.Observation, cites []string) {
	for _, k := range c.dice.Perm(len(c.tables.Characters)) {
		character := c.tables.Characters[k]
		if character.Kind == diagnosis.KindLength || len(seen) == 8 {
			continue
		}
		o := review.Observation{ID: fmt.Sprintf("%s-%d", id, len(seen)), Character: character.ID, State: c.state(character), Sureness: review.Sure,
			By: fmt.Sprintf("member-%d", c.dice.IntN(40)), Role: review.RoleMember, At: at}
		seen, cites = append(seen, o), append(cites, o.ID)
	}
	return seen, cites
}

func (c *crowd) state(character diagnosis.Character) string {
	return character.States[c.dice.IntN(len(character.States))].ID
}

// said is what two reviewers say.
func (c *crowd) said(seen []review.Observation, at time.Time) (changes []review.Change) {
	first := c.dice.IntN(30)
	for i := range 2 {
		by := fmt.Sprintf("reviewer-%d", (first+i*7)%30)
		if c.dice.IntN(2) == 0 {
			changes = append(changes, &review.BlindChecked{Check: review.BlindCheck{Observation: seen[0].ID, State: seen[0].State, By: by,
				Role: review.RoleReviewer, Rate: 0.5, At: at}})
		}
		var verdicts []review.Verdict
		for _, o := range seen {
			v := review.Verdict{Observation: o.ID, Kind: review.VerdictConfirm, By: by, Role: review.RoleReviewer, At: at}
			character, _ := c.tables.Character(o.Character)
			if other := c.state(*character); other != o.State && c.dice.IntN(10) == 0 {
				v.Kind, v.Better = review.VerdictDispute, other
			}
			verdicts = append(verdicts, v)
		}
		changes = append(changes, &review.VerdictsGiven{Verdicts: verdicts})
	}
	return changes
}

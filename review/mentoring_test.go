package review

import (
	"testing"

	"github.com/stretchr/testify/require"

	"revidit/review/judgement"
)

// TestASeriesTakesFifty: the first fifty of the beginner's own names, on specimens that nobody has submitted before, while it runs.
func TestASeriesTakesFifty(t *testing.T) {
	now := func(change func(*Dossier)) string {
		d := &Dossier{Moment: Moment{Actor: Actor{Person: "ada", Role: RoleMember}},
			Submission: &Submission{ID: "s", Owner: "ada", Determination: Determination{Determiner: "ada"}},
			Series:     []Series{{ID: "other", Member: "ben", Status: SeriesRunning}, {ID: "own", Member: "ada", Status: SeriesRunning}}, InSeries: SeriesLength - 1}
		change(d)
		return d.takesPart()
	}
	require.Equal(t, "own", now(func(*Dossier) {}))
	require.Empty(t, now(func(d *Dossier) { d.InSeries = SeriesLength }))
	require.Empty(t, now(func(d *Dossier) { d.Series[1].Status = SeriesWaiting }))
	require.Empty(t, now(func(d *Dossier) { d.Submission.Determination.Determiner = "old hand" }))
	require.Empty(t, now(func(d *Dossier) { d.Submission.Follows = "former" }))
	require.Empty(t, now(func(d *Dossier) { d.Siblings = []Submission{{ID: "before", OpenedAt: &d.Now}} }))
}

// TestWhatAMentorSettlesBy: agreement is enough, but for what does not fit and nobody has answered.
func TestWhatAMentorSettlesBy(t *testing.T) {
	p := DefaultPolicy()
	s := Submission{Series: "own", Assessment: &judgement.Assessment{Confidence: 0.1}}
	require.Equal(t, []Coded{Code("missing-mentor")}, p.MissingInSeries(&s, nil, "rita"))
	s.Opinions = []Opinion{{Kind: OpinionAgrees, By: "rolf"}}
	require.Len(t, p.MissingInSeries(&s, nil, "rita"), 1, "another's is not enough")
	s.Opinions = []Opinion{{Kind: OpinionAgrees, By: "rita"}}
	require.Empty(t, p.MissingInSeries(&s, nil, "rita"))
	s.Assessment.Contradictions = []judgement.Contradiction{{Kind: judgement.Excluded, Character: "ventrites", State: "6"}}
	require.Len(t, p.MissingInSeries(&s, nil, "rita"), 1)
	s.Replies = []Reply{{Kind: judgement.Excluded, Character: "ventrites", State: "6"}}
	require.Empty(t, p.MissingInSeries(&s, nil, "rita"))
}

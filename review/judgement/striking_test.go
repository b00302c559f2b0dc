package judgement

import (
	"slices"
	"testing"

	"github.com/stretchr/testify/require"

	"revidit/review/diagnosis"
)

// leastPrior and mostMass say which families own a state: at least a thousandth of the prior, and more than half of all that
// shows the state.
const (
	leastPrior = 0.001
	mostMass   = 0.5
)

// ownerOf is the family that holds more than half of a state's mass, and false where none does.
func (j *Judge) ownerOf(character, state int) (*diagnosis.Family, bool) {
	c := &j.tables.Characters[character]
	total, best, most := 0.0, -1, 0.0
	prior := j.model.Posterior(nil, sexOf(""), nil).P
	for i := range j.tables.Families {
		share, known := j.tables.Families[i].Share(c.ID, state)
		if !known {
			continue
		}
		mass := prior[i] * share
		total += mass
		if mass > most {
			best, most = i, mass
		}
	}
	if best < 0 || most <= mostMass*total || prior[best] < leastPrior {
		return nil, false
	}
	return &j.tables.Families[best], true
}

// first is the most probable family, none of these aside, after sure reports of a member.
func (j *Judge) first(states map[string]string) Ranked {
	var e Evidence
	for _, id := range j.tables.Characters {
		if state, ok := states[id.ID]; ok {
			e.Stated = append(e.Stated, Stated{Character: id.ID, State: state})
		}
	}
	ranking := j.Assess(e).Ranking
	return ranking[slices.IndexFunc(ranking, func(r Ranked) bool { return r.Family != NoneOfThese })]
}

// TestStrikingStateNamesItsFamily: one sure report of a striking state by a member puts the family first that holds more than
// half of its mass.
func TestStrikingStateNamesItsFamily(t *testing.T) {
	for _, tables := range diagnosis.All() {
		j := newJudge(tables)
		owned := 0
		for i := range tables.Characters {
			c := &tables.Characters[i]
			for _, state := range c.Striking {
				owner, ok := j.ownerOf(i, c.State(state))
				if !ok {
					continue
				}
				owned++
				require.Equal(t, owner.Name, j.first(map[string]string{c.ID: state}).Family, "%s %s", c.ID, state)
			}
		}
		t.Logf("%s: %d striking states with an owner", tables.Group.ID, owned)
	}
}

// TestSingleStrikingReports: what a specialist thinks of first when a single thing is told of a beetle. From memory.
func TestSingleStrikingReports(t *testing.T) {
	j := newJudge(diagnosis.Default())
	for _, report := range []struct{ character, state, family string }{
		{"light-organ", "present", "Lampyridae"}, {"prosternal-process", "click-spine", "Elateridae"},
		{"prosternal-process", "fixed-spine", "Buprestidae"}, {"abdomen-tip", "pointed", "Mordellidae"},
		{"side-vesicles", "present", "Melyridae"}, {"mandibles", "antler-like", "Lucanidae"}, {"rostrum", "long", "Curculionidae"},
		{"antenna-insertion", "on-rostrum", "Curculionidae"}, {"antenna-elbowed", "yes", "Curculionidae"},
		{"antenna-form", "lamellate", "Scarabaeidae"}, {"antenna-length", "over-whole", "Cerambycidae"},
		{"antenna-insertion", "in-eye-notch", "Cerambycidae"}, {"eyes", "divided", "Gyrinidae"}, {"ocellus", "one", "Dermestidae"},
		{"ocellus", "two", "Staphylinidae"}, {"elytra-cover", "short", "Staphylinidae"}, {"elytra-cover", "absent", "Phengodidae"},
		{"elytra-surface", "net-veined", "Lycidae"}, {"first-ventrite", "divided", "Carabidae"},
		{"hind-coxal-plates", "large", "Haliplidae"}, {"hind-legs", "swimming", "Dytiscidae"},
		{"hind-legs", "jumping", "Chrysomelidae"}, {"body-surface", "scaly", "Curculionidae"},
		{"postcoxal-lines", "present", "Coccinellidae"}, {"fore-tibia", "toothed", "Scarabaeidae"},
		{"antenna-form", "flabellate", "Ripiphoridae"}, {"tarsi-counted", "5-5-4", "Tenebrionidae"},
	} {
		require.Equal(t, report.family, j.first(map[string]string{report.character: report.state}).Family, "%s %s", report.character, report.state)
		ranking := j.Assess(told(report.character + "=" + report.state)).Ranking
		first := slices.IndexFunc(ranking, func(r Ranked) bool { return r.Family != NoneOfThese })
		require.Equal(t, report.family, ranking[first].Family, "%s %s, told freely", report.character, report.state)
	}
	serrate := j.first(map[string]string{"antenna-form": "serrate", "prosternal-process": "click-spine"})
	require.Equal(t, "Elateridae", serrate.Family)
	require.Greater(t, serrate.P, 0.65)
}

// TestReportsSpeakForThemselves: in what the tables say of members and reviewers no report of a state is made more often
// where another is true.
func TestReportsSpeakForThemselves(t *testing.T) {
	for _, tables := range diagnosis.All() {
		for i := range tables.Characters {
			c := &tables.Characters[i]
			if c.Kind != diagnosis.KindStates {
				continue
			}
			for _, role := range []func(diagnosis.Rates) float64{
				func(r diagnosis.Rates) float64 { return orElse(r.Member, memberReads) },
				func(r diagnosis.Rates) float64 { return orElse(r.Reviewer, reviewerReads) },
			} {
				requireOwnName(t, c, role)
			}
		}
	}
}

func orElse(p, usual float64) float64 {
	if p == 0 {
		return usual
	}
	return p
}

func requireOwnName(t *testing.T, c *diagnosis.Character, right func(diagnosis.Rates) float64) {
	t.Helper()
	rate := func(s int) float64 {
		if c.Read == nil {
			return right(diagnosis.Rates{})
		}
		return right(c.Read[s])
	}
	for s := range c.States {
		errors := 0.0
		for a := range c.States {
			if a != s {
				errors += c.MistakenFor(s, a)
			}
		}
		for a := range c.States {
			if a != s {
				require.Less(t, (1-rate(s))*c.MistakenFor(s, a)/errors, rate(a), "%s: %s where %s is true", c.ID, c.States[a].ID, c.States[s].ID)
			}
		}
	}
}

package confidence

import (
	"math"
	"math/rand/v2"
	"slices"
	"testing"

	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"
)

func fitReliability(t require.TestingT, panel Panel, items []Item, o ReliabilityOptions) *Reliability {
	r, err := FitReliability(panel, items, o)
	require.NoError(t, err)
	return r
}

// slowLogPosterior is the objective of the fit by another way: report by report with the formula of Report and the
// shared error of Posterior, not packed. Items must have one verdict for each person.
func slowLogPosterior(panel Panel, items []Item, accuracy, anchoring []float64, estimated func(int) bool) float64 {
	log := 0.0
	for j, role := range panel.Persons {
		prior := panel.Roles[role]
		for region := range panel.Regions {
			p := accuracy[j*panel.Regions+region]
			log += prior.Right*math.Log(p) + prior.Wrong*math.Log(1-p)
		}
		if estimated(j) {
			a := anchoring[j]
			log += prior.AnchoringWeight * (prior.Anchoring*math.Log(a) + (1-prior.Anchoring)*math.Log(1-a))
		}
	}
	for _, item := range items {
		character := panel.Characters[item.Character]
		c := compiled{kind: character.Kind, states: character.States, misreading: misreading(character)}
		product, likelihood := make([]float64, c.states), make([]float64, c.states)
		for s := range product {
			product[s] = 1
			for _, v := range item.Verdicts {
				p := accuracy[v.Person*panel.Regions+panel.Region[item.Character]]
				if v.Fixed > 0 {
					p = v.Fixed
				}
				product[s] *= c.probability(Report{Kind: v.Kind, State: v.State, Better: v.Better, Accuracy: p, Anchoring: anchoring[v.Person]}, s)
			}
		}
		c.share(likelihood, product, panel.SharedError)
		total := 0.0
		for s, p := range item.Prior {
			total += p * likelihood[s]
		}
		log += math.Log(total)
	}
	return log
}

// TestFitIsAMaximum: at the result the slopes of the objective are 0 and its curvature is the stated information.
func TestFitIsAMaximum(t *testing.T) {
	s := newSimulation(1, 6, 2, 0.1, 0.3)
	s.panel.SharedError = 0.05
	items := s.items(150)
	items[3].Verdicts[1].Fixed = 0.6
	r := fitReliability(t, s.panel, items, ReliabilityOptions{Tolerance: 1e-12, MaxIterations: 5000})
	require.True(t, r.Converged)
	accuracy, anchoring := slices.Clone(r.accuracy[:len(r.known)]), slices.Clone(r.anchoring)
	at := func() float64 { return slowLogPosterior(s.panel, items, accuracy, anchoring, r.estimatesAnchoring) }
	require.InDelta(t, at(), r.LogPosterior[len(r.LogPosterior)-1], 1e-7)

	check := func(p *float64, standardError float64, name string, i int) {
		const h = 1e-4
		middle, value := at(), *p
		*p = value + h
		above := at()
		*p = value - h
		below := at()
		*p = value
		require.InDelta(t, 0, (above-below)/(2*h)*standardError, 1e-4, "%s %d", name, i)
		curvature := -(above - 2*middle + below) / (h * h)
		require.InEpsilon(t, 1/(standardError*standardError), curvature, 1e-3, "%s %d", name, i)
	}
	for slot := range accuracy {
		check(&accuracy[slot], r.Accuracy(slot/2, slot%2).StandardError, "accuracy", slot)
	}
	for j := range anchoring {
		estimate := r.Anchoring(j)
		require.True(t, estimate.Estimated)
		check(&anchoring[j], estimate.StandardError, "anchoring", j)
	}
}

// TestKnownTruth: where the priors leave no doubt, the accuracy is a share, and its error that of a share.
func TestKnownTruth(t *testing.T) {
	panel := Panel{Characters: nominal(3), Region: []int{0}, Regions: 1, Roles: []Role{{Right: 8, Wrong: 2, Anchoring: 0.2, AnchoringWeight: 10}}, Persons: []int{0}}
	var items []Item
	for i := range 40 {
		said := 0
		if i%4 == 0 {
			said = 1
		}
		items = append(items, Item{Prior: []float64{1, 0, 0}, Verdicts: []Verdict{{State: said, Better: NoState}}})
	}
	r := fitReliability(t, panel, items, ReliabilityOptions{})
	a := r.Accuracy(0, 0)
	require.InDelta(t, 38.0/50, a.Value, 1e-12)
	require.InDelta(t, 38, a.Right, 1e-9)
	require.InDelta(t, 12, a.Wrong, 1e-9)
	require.InDelta(t, math.Sqrt(0.76*0.24/50), a.StandardError, 1e-12)
	require.Equal(t, 40, a.Verdicts)
	require.Equal(t, 40, r.Items())
	require.Equal(t, []Warning{NeverBlind}, a.Warnings)
	require.Equal(t, []Warning{NothingShared, NoBlindChecks}, r.Warnings())
}

func drawReliability(t *rapid.T) (Panel, []Item) {
	s := newSimulation(rapid.Uint64Range(0, 1<<20).Draw(t, "seed"), rapid.IntRange(4, 7).Draw(t, "persons"),
		rapid.IntRange(1, 3).Draw(t, "regions"), rapid.Float64Range(0, 0.2).Draw(t, "off"), rapid.Float64Range(0, 1).Draw(t, "blind"))
	s.panel.SharedError = rapid.Float64Range(0, 0.2).Draw(t, "shared error")
	return s.panel, s.items(rapid.IntRange(1, 60).Draw(t, "verdicts"))
}

func TestLogPosteriorNeverFalls(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		panel, items := drawReliability(t)
		r := fitReliability(t, panel, items, ReliabilityOptions{Tolerance: 1e-9, MaxIterations: 60})
		for n := 1; n < len(r.LogPosterior); n++ {
			require.GreaterOrEqual(t, r.LogPosterior[n], r.LogPosterior[n-1]-1e-9)
		}
		for j := range panel.Persons {
			for region := range panel.Regions {
				a := r.Accuracy(j, region)
				require.True(t, inside(a.Value) && positive(a.StandardError) && positive(a.Right) && positive(a.Wrong), "%+v", a)
			}
			require.True(t, inside(r.Anchoring(j).Value))
		}
	})
}

// TestReliabilityOrderAndNames: neither the order of items and of verdicts, nor renaming people and states, changes
// anything.
func TestReliabilityOrderAndNames(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		panel, items := drawReliability(t)
		random := rand.New(rand.NewPCG(rapid.Uint64().Draw(t, "order"), 3))
		people := random.Perm(len(panel.Persons))
		other := panel
		other.Persons = make([]int, len(people))
		for j, to := range people {
			other.Persons[to] = panel.Persons[j]
		}
		renamed := make([]Item, len(items))
		for i, to := range random.Perm(len(items)) {
			renamed[to] = rename(items[i], people, random)
		}
		a := fitReliability(t, panel, items, ReliabilityOptions{MaxIterations: 50})
		b := fitReliability(t, other, renamed, ReliabilityOptions{MaxIterations: 50})
		for j, to := range people {
			require.InDelta(t, a.Anchoring(j).Value, b.Anchoring(to).Value, 1e-9)
			for region := range panel.Regions {
				require.InDelta(t, a.Accuracy(j, region).Value, b.Accuracy(to, region).Value, 1e-9)
				require.InDelta(t, a.Accuracy(j, region).StandardError, b.Accuracy(to, region).StandardError, 1e-9)
			}
		}
	})
}

// rename shuffles the verdicts and turns the states around where no confusion weights but a symmetric order tie them:
// two states, and counts.
func rename(item Item, people []int, random *rand.Rand) Item {
	out := Item{Character: item.Character, Prior: slices.Clone(item.Prior), Verdicts: make([]Verdict, len(item.Verdicts))}
	turn := item.Character%3 != 1
	if turn {
		slices.Reverse(out.Prior)
	}
	for i, to := range random.Perm(len(item.Verdicts)) {
		v := item.Verdicts[i]
		v.Person = people[v.Person]
		if turn {
			v.State = len(out.Prior) - 1 - v.State
		}
		if turn && v.Better != NoState {
			v.Better = len(out.Prior) - 1 - v.Better
		}
		out.Verdicts[to] = v
	}
	return out
}

// meanError is the mean absolute difference of the estimated from the true accuracies and anchoring.
func meanError(r *Reliability, s *simulation) (accuracy, anchoring float64) {
	for slot, p := range s.accuracy {
		accuracy += math.Abs(p-r.accuracy[slot]) / float64(len(s.accuracy))
	}
	for j, a := range s.anchoring {
		anchoring += math.Abs(a-r.anchoring[j]) / float64(len(s.anchoring))
	}
	return accuracy, anchoring
}

// TestRecovery: two hundred verdicts for each person and region, priors off by a tenth.
func TestRecovery(t *testing.T) {
	for name, blind := range map[string]float64{"all blind": 1, "half shown": 0.5, "four fifths shown": 0.2, "nine tenths shown": 0.1} {
		for seed := range uint64(3) {
			s := newSimulation(seed, 20, 3, 0.1, blind)
			r := fitReliability(t, s.panel, s.items(200), ReliabilityOptions{})
			accuracy, anchoring := meanError(r, s)
			covered := 0
			for slot, p := range s.accuracy {
				if a := r.Accuracy(slot/3, slot%3); math.Abs(a.Value-p) < 1.96*a.StandardError {
					covered++
				}
			}
			t.Log(float64(covered)/float64(len(s.accuracy)))
			t.Logf("%s, seed %d: accuracy off by %.4f, anchoring by %.4f, %d iterations", name, seed, accuracy, anchoring, len(r.LogPosterior))
			require.True(t, r.Converged)
			require.LessOrEqual(t, accuracy, 0.05, name)
			if blind < 1 {
				_ = anchoring
			}
		}
	}
}

// TestOnlineApproachesRefit: submissions of nine items, one after another, against one fit of all.
func TestOnlineApproachesRefit(t *testing.T) {
	for _, blind := range []float64{1, 0.5, 0.2} {
		s := newSimulation(11, 10, 2, 0.1, blind)
		online, err := NewReliability(s.panel)
		require.NoError(t, err)
		var all []Item
		for _, verdicts := range []int{200, 800, 3200} {
			items := s.items(verdicts - len(all)*4/len(s.accuracy))
			all = append(all, items...)
			for submission := range slices.Chunk(items, 9) {
				require.NoError(t, online.Add(submission))
			}
			refit := fitReliability(t, s.panel, all, ReliabilityOptions{})
			accuracy, anchoring := 0.0, 0.0
			for slot := range refit.known {
				accuracy += math.Abs(refit.accuracy[slot]-online.accuracy[slot]) / float64(len(refit.known))
			}
			for j := range refit.anchoring {
				anchoring += math.Abs(refit.anchoring[j]-online.anchoring[j]) / float64(len(refit.anchoring))
			}
			t.Logf("blind %v, %d verdicts: accuracy differs by %.5f, anchoring by %.5f", blind, verdicts, accuracy, anchoring)
			require.Equal(t, refit.tallies, online.tallies)
			require.Equal(t, refit.Items(), online.Items())
			_ = accuracy
		}
	}
}

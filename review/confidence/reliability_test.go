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
		c := newCompiled(character, panel.SharedError)
		product, likelihood := make([]float64, c.states), make([]float64, c.states)
		for s := range product {
			product[s] = 1
			for _, v := range item.Verdicts {
				p := accuracy[v.Person*panel.Regions+panel.Region[item.Character]]
				if v.Fixed > 0 {
					p = v.Fixed
				}
				product[s] *= c.probability(Report{Kind: v.Kind, State: v.State, Better: v.Better, Reader: panel.Persons[v.Person], Accuracy: p, Anchoring: anchoring[v.Person]}, s)
			}
		}
		c.share(likelihood, product)
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
	t.Run("ordinary states", func(t *testing.T) { fitIsAMaximum(t, newSimulation(1, 6, 2, 0.1, 0.3)) })
	t.Run("striking states", func(t *testing.T) { fitIsAMaximum(t, newSimulation(1, 6, 2, 0.1, 0.3).directed()) })
}

func fitIsAMaximum(t *testing.T, s *simulation) {
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

func drawReliability(t *rapid.T, directed bool) (Panel, []Item) {
	s := newSimulation(rapid.Uint64Range(0, 1<<20).Draw(t, "seed"), rapid.IntRange(4, 7).Draw(t, "persons"),
		rapid.IntRange(1, 3).Draw(t, "regions"), rapid.Float64Range(0, 0.2).Draw(t, "off"), rapid.Float64Range(0, 1).Draw(t, "blind"))
	s.panel.SharedError = rapid.Float64Range(0, 0.2).Draw(t, "shared error")
	if directed {
		s.directed()
	}
	return s.panel, s.items(rapid.IntRange(1, 60).Draw(t, "verdicts"))
}

func TestLogPosteriorNeverFalls(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		panel, items := drawReliability(t, rapid.Bool().Draw(t, "directed"))
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
		panel, items := drawReliability(t, false)
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
	t.Run("ordinary states", func(t *testing.T) { recovers(t, (*simulation).itself) })
	t.Run("striking states", func(t *testing.T) { recovers(t, (*simulation).directed) })
}

func (s *simulation) itself() *simulation { return s }

func recovers(t *testing.T, made func(*simulation) *simulation) {
	for name, blind := range map[string]float64{"all blind": 1, "half shown": 0.5, "four fifths shown": 0.2, "nine tenths shown": 0.1} {
		for seed := range uint64(3) {
			s := made(newSimulation(seed, 20, 3, 0.1, blind))
			r := fitReliability(t, s.panel, s.items(200), ReliabilityOptions{})
			accuracy, anchoring := meanError(r, s)
			covered := 0
			for slot, p := range s.accuracy {
				if a := r.Accuracy(slot/3, slot%3); math.Abs(a.Value-p) < 1.96*a.StandardError {
					covered++
				}
			}
			require.GreaterOrEqual(t, covered, len(s.accuracy)*85/100, "within 1.96 standard errors")
			require.True(t, r.Converged)
			require.LessOrEqual(t, accuracy, 0.05, name)
			if blind < 1 { // else nothing was shown, and α stays the role's
				require.LessOrEqual(t, anchoring, 0.08, name)
			}
		}
	}
}

// TestOnlineApproachesRefit: submissions of nine items, one after another, against one fit of all. The mean difference
// falls with the number of reports for each person and region.
func TestOnlineApproachesRefit(t *testing.T) {
	tolerances := []struct {
		verdicts            int
		accuracy, anchoring float64
	}{{200, 0.02, 0.06}, {800, 0.01, 0.03}, {3200, 0.004, 0.015}}
	for _, blind := range []float64{1, 0.5, 0.2} {
		s := newSimulation(11, 10, 2, 0.1, blind)
		online, err := NewReliability(s.panel)
		require.NoError(t, err)
		var all []Item
		for _, tolerance := range tolerances {
			items := s.items(tolerance.verdicts - len(all)*4/len(s.accuracy))
			all = append(all, items...)
			for submission := range slices.Chunk(items, 9) {
				require.NoError(t, online.Add(submission))
			}
			refit := fitReliability(t, s.panel, all, ReliabilityOptions{})
			require.LessOrEqual(t, meanDifference(refit.accuracy, online.accuracy), tolerance.accuracy)
			require.LessOrEqual(t, meanDifference(refit.anchoring, online.anchoring), tolerance.anchoring)
			require.Equal(t, refit.tallies, online.tallies)
			require.Equal(t, refit.Items(), online.Items())
		}
	}
}

func meanDifference(a, b []float64) float64 {
	total := 0.0
	for i := range a {
		total += math.Abs(a[i]-b[i]) / float64(len(a))
	}
	return total
}

// TestAddingAllIsTheFit: Add on nothing is the fit.
func TestAddingAllIsTheFit(t *testing.T) {
	s := newSimulation(4, 6, 2, 0.1, 0.4)
	items := s.items(50)
	online, err := NewReliability(s.panel)
	require.NoError(t, err)
	require.NoError(t, online.Add(items))
	require.Equal(t, fitReliability(t, s.panel, items, ReliabilityOptions{}), online)
}

// TestAnchoringNeedsBlindChecks: the role's anchoring until a person has thirty blind checks, from then on an estimate.
func TestAnchoringNeedsBlindChecks(t *testing.T) {
	panel := Panel{Characters: nominal(2), Region: []int{0}, Regions: 1, Roles: []Role{RoleOf(0.8, 0.2, 10)}, Persons: []int{0}}
	var items []Item
	// Truth is known. Blind: right in 4 of 5. Shown the wrong state: confirmed in 3 of 5, where a free reader would in 1.
	for i := range 200 {
		shown := Verdict{Kind: Confirmed, State: 1}
		if i%5 < 2 {
			shown = Verdict{Kind: Disputed, State: 1, Better: NoState}
		}
		items = append(items, Item{Prior: []float64{1, 0}, Verdicts: []Verdict{shown}})
	}
	blind := func(n int) (out []Item) {
		for i := range n {
			v := Verdict{Blind: true, Better: NoState}
			if i%5 == 0 {
				v.State = 1
			}
			out = append(out, Item{Prior: []float64{1, 0}, Verdicts: []Verdict{v}})
		}
		return out
	}
	before := fitReliability(t, panel, append(blind(BlindChecks-1), items...), ReliabilityOptions{}).Anchoring(0)
	require.Equal(t, AnchoringEstimate{Value: 0.2, Shown: 200, Blind: 29, Warnings: []Warning{RoleAnchoring}}, before)

	after := fitReliability(t, panel, append(blind(1000), items...), ReliabilityOptions{})
	require.True(t, after.Anchoring(0).Estimated)
	require.Empty(t, after.Anchoring(0).Warnings)
	// 0.6 = α + (1 − α) · 0.2, drawn to the role's 0.2 by its ten reports.
	require.InDelta(t, 0.5, after.Anchoring(0).Value, 0.03)
	require.InDelta(t, 0.8, after.Accuracy(0, 0).Value, 0.01)
	require.Equal(t, []Warning{NothingShared}, after.Warnings())
}

// TestOneVerdictForEachPerson: of several on one item the blind one counts, else the last.
func TestOneVerdictForEachPerson(t *testing.T) {
	panel := Panel{Characters: nominal(3), Region: []int{0}, Regions: 1, Roles: []Role{RoleOf(0.8, 0.2, 10)}, Persons: []int{0, 0}}
	prior := []float64{0.5, 0.3, 0.2}
	blind, other := Verdict{Blind: true, State: 1, Better: NoState}, Verdict{Person: 1, State: 0, Better: NoState}
	confirmed, disputed := Verdict{Kind: Confirmed, State: 0}, Verdict{Kind: Disputed, State: 0, Better: 2}
	fit := func(verdicts ...Verdict) *Reliability {
		return fitReliability(t, panel, []Item{{Prior: prior, Verdicts: verdicts}}, ReliabilityOptions{})
	}
	require.Equal(t, fit(blind, other), fit(confirmed, blind, other))
	require.Equal(t, fit(blind, other), fit(blind, confirmed, other))
	require.Equal(t, fit(disputed, other), fit(confirmed, disputed, other))
	require.Equal(t, fit(other, disputed), fit(other, confirmed, disputed))
}

func TestFixedAccuracyTeachesNothing(t *testing.T) {
	panel := Panel{Characters: nominal(2), Region: []int{0}, Regions: 1, Roles: []Role{RoleOf(0.8, 0.2, 10)}, Persons: []int{0, 0}}
	unsure := Verdict{State: 1, Better: NoState, Fixed: 0.6}
	sure := Verdict{Person: 1, State: 1, Better: NoState}
	r := fitReliability(t, panel, []Item{{Prior: []float64{0.5, 0.5}, Verdicts: []Verdict{unsure, sure}}}, ReliabilityOptions{})
	require.InDelta(t, 0.8, r.Accuracy(0, 0).Value, 1e-12)
	require.Zero(t, r.Accuracy(0, 0).Verdicts)
	require.Equal(t, []Warning{PriorDecides, NeverBlind}, r.Accuracy(0, 0).Warnings)
	require.Greater(t, math.Abs(r.Accuracy(1, 0).Value-0.8), 1e-4, "the unsure report is evidence on the state")
}

// TestManyReportsOnOneItem: five thousand reports would vanish in one product; a wrong majority makes a warning.
func TestManyReportsOnOneItem(t *testing.T) {
	panel := Panel{Characters: nominal(4), Region: []int{0}, Regions: 1, Roles: []Role{RoleOf(0.6, 0.2, 2)}, Persons: make([]int, 5000)}
	item := Item{Prior: []float64{1, 0, 0, 0}}
	for j := range panel.Persons {
		item.Verdicts = append(item.Verdicts, Verdict{Person: j, State: j % 4, Better: NoState})
	}
	r := fitReliability(t, panel, []Item{item}, ReliabilityOptions{})
	require.Greater(t, r.Accuracy(0, 0).Value, 0.6)
	require.Contains(t, r.Accuracy(1, 0).Warnings, WorseThanHalf)
	require.False(t, math.IsNaN(r.LogPosterior[0]) || math.IsInf(r.LogPosterior[0], 0))
}

func TestReliabilityRefuses(t *testing.T) {
	good := func() Panel {
		return Panel{Characters: []Character{{States: 2}, {Kind: Length, States: 9, Step: 0.1}}, Region: []int{0, 0}, Regions: 1,
			Roles: []Role{RoleOf(0.8, 0.2, 10)}, Persons: []int{0}}
	}
	half := []float64{0.5, 0.5}
	for message, item := range map[string]Item{
		"item 0: character 7 of 2":              {Character: 7},
		"character 1 is a length":               {Character: 1},
		"the prior is no distribution":          {Prior: []float64{0.5, 0.6}},
		"verdict 0: person 1 of 1":              {Prior: half, Verdicts: []Verdict{{Person: 1}}},
		"verdict 0: kind 3":                     {Prior: half, Verdicts: []Verdict{{Kind: 3}}},
		"a blind check states":                  {Prior: half, Verdicts: []Verdict{{Kind: Confirmed, Blind: true}}},
		"verdict 0: state 2 of 2":               {Prior: half, Verdicts: []Verdict{{State: 2}}},
		"better state 1 of 2, beside state 1":   {Prior: half, Verdicts: []Verdict{{Kind: Disputed, State: 1, Better: 1}}},
		"the fixed accuracy is 1, not above 0 ": {Prior: half, Verdicts: []Verdict{{Fixed: 1}}},
	} {
		_, err := FitReliability(good(), []Item{item}, ReliabilityOptions{})
		require.ErrorContains(t, err, message)
	}
	for message, spoil := range map[string]func(*Panel){
		"region: 1 for 2":                 func(p *Panel) { p.Region = p.Region[:1] },
		"character 0: region 0 of 0":      func(p *Panel) { p.Regions = 0 },
		"character 0: 0 states":           func(p *Panel) { p.Characters[0].States = 0 },
		"role 0: right, wrong":            func(p *Panel) { p.Roles[0].Wrong = 0 },
		"role 0: the anchoring is 1":      func(p *Panel) { p.Roles[0].Anchoring = 1 },
		"person 0: role 3 of 1":           func(p *Panel) { p.Persons[0] = 3 },
		"the shared error is 1, not from": func(p *Panel) { p.SharedError = 1 },
	} {
		panel := good()
		spoil(&panel)
		_, err := NewReliability(panel)
		require.ErrorContains(t, err, message)
	}
	_, err := FitReliability(good(), nil, ReliabilityOptions{Tolerance: -1})
	require.ErrorContains(t, err, "tolerance -1")
	r := fitReliability(t, good(), []Item{{Prior: []float64{0.9, 0.1}, Verdicts: []Verdict{{}}}}, ReliabilityOptions{MaxIterations: 1})
	require.Contains(t, r.Warnings(), NotConverged)
}

// TestStatesKeepTheirNames: somebody who has two states by each other's names is let fall to where the reports tell nothing,
// and no lower; a report of a state then still does not speak against it.
func TestStatesKeepTheirNames(t *testing.T) {
	for name, character := range map[string]Character{"ordinary": {States: 2}, "striking": {States: 3, Ease: [][]float64{{0.3, 40, 1}}}} {
		panel := Panel{Characters: []Character{character}, Region: []int{0}, Regions: 1, Roles: []Role{RoleOf(0.85, 0.2, 10)}, Persons: []int{0}}
		var items []Item
		for i := range 400 {
			prior := make([]float64, character.States)
			prior[i%2] = 1
			items = append(items, Item{Prior: prior, Verdicts: []Verdict{{State: 1 - i%2, Better: NoState}}})
		}
		a := fitReliability(t, panel, items, ReliabilityOptions{}).Accuracy(0, 0)
		require.Contains(t, a.Warnings, WorseThanHalf, name)
		c := newCompiled(character, 0)
		said := func(a2, s int) float64 { return c.probability(Report{State: a2, Accuracy: a.Value}, s) }
		worst := math.Inf(1)
		for a2 := range character.States {
			for s := range character.States {
				if a2 != s {
					worst = min(worst, said(a2, a2)/said(a2, s))
				}
			}
		}
		require.InDelta(t, 1, worst, 1e-9, name)
		require.True(t, positive(a.StandardError) && positive(a.Right) && positive(a.Wrong), "%+v", a)
	}
}

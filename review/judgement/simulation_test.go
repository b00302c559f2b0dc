package judgement

import (
	"math"
	"math/rand/v2"
	"strconv"
	"testing"

	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"revidit/review/diagnosis"
)

// TestAnyEvidence: whatever is stated of any family, the numbers stay numbers and the lists complete.
func TestAnyEvidence(t *testing.T) {
	j := newJudge(diagnosis.Default())
	tables := j.Tables()
	rapid.Check(t, func(t *rapid.T) {
		e := Evidence{
			Family: tables.Families[rapid.IntRange(0, len(tables.Families)-1).Draw(t, "family")].Name,
			Sex:    rapid.SampledFrom([]string{"", "male", "female"}).Draw(t, "sex"),
			Views:  []string{"whole-above"},
		}
		for range rapid.IntRange(0, 25).Draw(t, "observations") {
			c := tables.Characters[rapid.IntRange(0, len(tables.Characters)-1).Draw(t, "character")]
			state := strconv.FormatFloat(rapid.Float64Range(c.Min, c.Max).Draw(t, "length"), 'f', 2, 64)
			if c.Kind != diagnosis.KindLength {
				state = c.States[rapid.IntRange(0, len(c.States)-1).Draw(t, "state")].ID
			}
			e.Stated = append(e.Stated, Stated{Character: c.ID, State: state})
		}
		a := j.Assess(e)
		sum := 0.0
		for _, r := range a.Ranking {
			sum += r.P
			if !(r.P > 0 && r.P < 1) {
				t.Fatalf("%s has %v", r.Family, r.P)
			}
		}
		if math.Abs(sum-1) > 1e-6 || len(a.Ranking) != len(tables.Families)+1 {
			t.Fatalf("%d families sum to %v", len(a.Ranking), sum)
		}
		for _, c := range a.Contradictions {
			if c.Source == "" || c.Character == "" || c.State == "" {
				t.Fatalf("incomplete: %+v", c)
			}
		}
	})
}

// simulation draws specimens from the tables and reports from people, by the assumptions of the model but without its
// code: a family by its prior, a form, a state of each character, and a reading that is right with memberReads.
type simulation struct {
	tables *diagnosis.Tables
	random *rand.Rand
}

func (s simulation) pick(weights []float64) int {
	total := 0.0
	for _, w := range weights {
		total += w
	}
	x := s.random.Float64() * total
	for i, w := range weights {
		if x -= w; x < 0 {
			return i
		}
	}
	return len(weights) - 1
}

// reading is what a member takes a state for.
func (s simulation) reading(c *diagnosis.Character, state int) int {
	right := memberReads
	if c.Read != nil && c.Read[state].Member > 0 {
		right = c.Read[state].Member
	}
	if s.random.Float64() < right {
		return state
	}
	weights := make([]float64, len(c.States))
	for i := range weights {
		weights[i] = c.MistakenFor(state, i)
	}
	weights[state] = 0
	return s.pick(weights)
}

func (s simulation) specimen(characters []string) (family string, e Evidence) {
	priors := make([]float64, len(s.tables.Families))
	for i, f := range s.tables.Families {
		priors[i] = math.Sqrt(float64(f.Species))
	}
	f := s.tables.Families[s.pick(priors)]
	weights := make([]float64, len(f.Forms))
	for i, form := range f.Forms {
		weights[i] = form.Weight
	}
	form := f.Forms[s.pick(weights)]
	for _, id := range characters {
		cell := form.Cells[id]
		if cell == nil {
			continue
		}
		c, _ := s.tables.Character(id)
		e.Stated = append(e.Stated, Stated{Character: id, State: c.States[s.reading(c, s.pick(cell.P))].ID})
	}
	return f.Name, e
}

// TestCalibration: names at a given confidence are right that often where the assumptions hold. The few per cent that
// the model keeps back for wrong tables, misleading photos and other families make it a little too careful.
func TestCalibration(t *testing.T) {
	j := newJudge(diagnosis.Default())
	s := simulation{tables: j.Tables(), random: rand.New(rand.NewPCG(7, 11))}
	// One of each dependent group, so that no exponent takes part.
	characters := []string{"antenna-form", "tarsi-counted", "rostrum", "first-ventrite", "prosternal-process", "pronotum-width",
		"head-width", "elytra-cover", "claws", "lustre", "fore-tibia", "hind-legs"}
	type band struct{ n, right, confidence float64 }
	bands := make([]band, 5)
	for range 6000 {
		family, e := s.specimen(characters)
		top := j.ranking(j.model.Posterior(j.gather(e).observations, sexOf(e.Sex), nil))[0] // the rest of an assessment takes most of its time
		b := &bands[min(int(top.P*5), 4)]
		b.n++
		b.confidence += top.P
		if top.Family == family {
			b.right++
		}
	}
	for i, b := range bands[1:] {
		require.Greater(t, b.n, 200.0, "band %d", i+1)
		// Three standard errors of the smallest band are 0.1. With many small families in the tables the number is on the
		// cautious side: right more often than it says, which is the harmless side.
		require.Less(t, b.confidence/b.n-b.right/b.n, 0.06, "band %d claims too much: %+v", i+1, b)
		require.Less(t, b.right/b.n-b.confidence/b.n, 0.08, "band %d claims too little: %+v", i+1, b)
	}
}

package review

import (
	"math"
	"testing"

	"github.com/stretchr/testify/require"

	"revidit/review/judgement"
)

// ready is a submission that settles under byNumber; each case breaks one thing.
func ready(change func(*Submission)) *Submission {
	s := &Submission{Status: StatusOpen, Owner: "owner", Determination: Determination{Family: "Elateridae", Determiner: "owner"},
		Opinions:   []Opinion{{Kind: OpinionAgrees, By: "a"}, {Kind: OpinionAgrees, By: "b"}},
		Assessment: &judgement.Assessment{Family: "Elateridae", Confidence: 0.97}}
	change(s)
	return s
}

func TestMissing(t *testing.T) {
	policy := byNumber()
	expert := policy
	expert.Experts = map[string][]string{"Elateridae": {"c"}}
	excluded := judgement.Contradiction{Kind: judgement.Excluded, Character: "prosternal-process", State: "fixed-spine"}
	lenient := policy
	lenient.ExcludedNeedsReason = false
	for _, c := range []struct {
		name    string
		policy  Policy
		change  func(*Submission)
		missing string // the only code, with what it is about; empty: it settles
	}{
		{"enough", policy, func(*Submission) {}, ""},
		{"one agrees", policy, func(s *Submission) { s.Opinions = s.Opinions[:1] }, "missing-more count=1"},
		{"one leaves it open", policy, func(s *Submission) { s.Opinions[1].Kind = OpinionLeftOpen }, "missing-more count=1"},
		{"a third gives another name", policy, func(s *Submission) {
			s.Opinions = append(s.Opinions, Opinion{Kind: OpinionAnother, Family: "Eucnemidae", By: "c"})
		}, "missing-another family=Eucnemidae"},
		{"no expert", expert, func(*Submission) {}, "missing-one-of-named family=Elateridae"},
		{"expert agrees", expert, func(s *Submission) { s.Opinions[0].By = "c" }, ""},
		{"not assessed", policy, func(s *Submission) { s.Assessment = nil }, "missing-not-assessed"},
		{"low confidence", policy, func(s *Submission) { s.Assessment.Confidence = 0.9499 }, "missing-carry least=0.950 p=0.949"},
		{"excluded", policy, func(s *Submission) { s.Assessment.Contradictions = []judgement.Contradiction{excluded} }, "missing-contradiction character="},
		{"excluded, answered", policy, func(s *Submission) {
			s.Assessment.Contradictions = []judgement.Contradiction{excluded}
			s.Replies = []Reply{{Kind: judgement.Excluded, Character: "prosternal-process", State: "fixed-spine", Reason: "glued specimen"}}
		}, ""},
		{"excluded, another one answered", policy, func(s *Submission) {
			s.Assessment.Contradictions = []judgement.Contradiction{excluded}
			s.Replies = []Reply{{Kind: judgement.Excluded, Character: "prosternal-process", State: "absent-or-short"}}
		}, "missing-contradiction character="},
		{"excluded, policy does not mind", lenient, func(s *Submission) { s.Assessment.Contradictions = []judgement.Contradiction{excluded} }, ""},
		{"incompatible always needs one", lenient, func(s *Submission) {
			s.Assessment.Contradictions = []judgement.Contradiction{{Kind: judgement.Incompatible, Character: "rostrum", State: "none"}}
		}, "missing-contradiction character="},
		{"unusual is only a flag", policy, func(s *Submission) {
			s.Assessment.Contradictions = []judgement.Contradiction{{Kind: judgement.Unusual, Character: "lustre", State: "metallic"}}
		}, ""},
	} {
		t.Run(c.name, func(t *testing.T) {
			missing := c.policy.Missing(ready(c.change), nil)
			if c.missing == "" {
				require.Empty(t, missing)
				return
			}
			require.Len(t, missing, 1)
			require.Contains(t, missing[0].String(), c.missing)
		})
	}
}

// The policy that Revidit starts with asks for one who is named for the family, or has the specimen in hand; and for what the
// characters say before that. No number of others settles anything.
func TestOneSuffices(t *testing.T) {
	policy := DefaultPolicy()
	policy.Experts = map[string][]string{"Elateridae": {"c"}}
	unnamed, orTwo, namedOrTwo := DefaultPolicy(), DefaultPolicy(), policy
	orTwo.Reviewers, namedOrTwo.Reviewers = 2, 2
	inHand := func(s *Submission) { s.Opinions = []Opinion{{Kind: OpinionAgrees, By: "a", Basis: BasisSpecimen}} }
	for _, c := range []struct {
		name    string
		policy  Policy
		change  func(*Submission)
		missing []Coded
	}{
		{"two from photos", policy, func(*Submission) {}, []Coded{Code("missing-named", "family", "Elateridae")}},
		{"the one who is named, from photos", policy, func(s *Submission) { s.Opinions = []Opinion{{Kind: OpinionAgrees, By: "c"}} }, nil},
		{"the one who is named, after opening", policy, func(s *Submission) {
			s.Opinions = []Opinion{{Kind: OpinionAgrees, By: "c", AfterOpening: true}}
		}, []Coded{Code("missing-named", "family", "Elateridae", "after", "1")}},
		{"in hand, though somebody is named", policy, inHand, nil},
		{"in hand, nobody is named", unnamed, inHand, nil},
		{"dissected", unnamed, func(s *Submission) { s.Opinions = []Opinion{{Kind: OpinionAgrees, By: "a", Basis: BasisDissected}} }, nil},
		{"in hand, and leaves it open", unnamed, func(s *Submission) {
			s.Opinions = []Opinion{{Kind: OpinionLeftOpen, By: "a", Basis: BasisSpecimen}}
		}, []Coded{Code("missing-in-hand", "family", "Elateridae")}},
		{"in hand, another doubts", unnamed, func(s *Submission) {
			inHand(s)
			s.Opinions = append(s.Opinions, Opinion{Kind: OpinionAnother, Family: "Eucnemidae", By: "b"})
		}, []Coded{Code("missing-another", "family", "Eucnemidae")}},
		{"two in place of one", orTwo, func(*Submission) {}, nil},
		{"one of two in place of one", orTwo, func(s *Submission) { s.Opinions = s.Opinions[:1] }, []Coded{Code("missing-in-hand-or", "count", "1")}},
		{"two in place of one who is named", namedOrTwo, func(*Submission) {}, []Coded{Code("missing-named", "family", "Elateridae")}},
		{"characters first", policy, func(s *Submission) { s.Assessment.Confidence = 0.5 }, []Coded{Code("missing-carry", "p", "0.500", "least", "0.950"),
			Code("missing-named", "family", "Elateridae")}},
		{"the voice is there, the characters are not", unnamed, func(s *Submission) {
			inHand(s)
			s.Assessment.Confidence = 0.5
		}, []Coded{Code("missing-carry", "p", "0.500", "least", "0.950")}},
	} {
		require.Equal(t, c.missing, c.policy.Missing(ready(c.change), nil), c.name)
	}
}

func TestPolicyCheck(t *testing.T) {
	first := DefaultPolicy()
	require.EqualError(t, first.Check(), Invalidf("reason", "must be filled in").Error(), "nobody has set it, and whoever sets one like it says why")
	first.Reason = "for the test"
	require.NoError(t, first.Check())
	require.Equal(t, 3, Policy{}.MostHolds(), "stored when there was no such bound")
	require.Equal(t, 7, Policy{HoldsAtOnce: 7}.MostHolds())
	none := byNumber()
	none.Reason = "for the test"
	none.Reviewers = 0
	require.EqualError(t, none.Check(), Invalidf("reviewers", "must be from 1 to 10").Error(), "no number is enough where nobody else is asked for")
	err := Policy{Reviewers: 0, Confidence: 1, HoldMinutes: 1}.Check()
	require.Equal(t, KindInvalid, KindOf(err))
	require.Len(t, err.(*Error).Fields, 5)
}

// TestMix: shares sum to one, and the club's own list needs a list.
func TestMix(t *testing.T) {
	with := func(mix, list map[string]float64) []string {
		p := DefaultPolicy()
		p.Mix, p.List, p.Reason = mix, list, "for the test"
		var fields []string
		if err, wrong := p.Check().(*Error); wrong {
			for _, f := range err.Fields {
				fields = append(fields, f.Field)
			}
		}
		return fields
	}
	list := map[string]float64{"Carabidae": 2}
	require.Empty(t, with(nil, nil))
	require.Empty(t, with(map[string]float64{"british-isles": 0.7, judgement.MixList: 0.3}, list))
	require.Empty(t, with(map[string]float64{"a": 0.33, "b": 0.33, "c": 0.33}, nil), "as people write thirds")
	require.Equal(t, []string{"mix"}, with(map[string]float64{"british-isles": 0.7}, nil))
	require.Equal(t, []string{"mix"}, with(map[string]float64{"british-isles": 0.7, judgement.MixWorld: 0.7}, nil))
	require.Equal(t, []string{"mix.list"}, with(map[string]float64{"list": 1}, nil))
	require.Equal(t, []string{"mix.world", "mix"}, with(map[string]float64{judgement.MixWorld: -1}, nil))
	p := DefaultPolicy()
	p.Mix = map[string]float64{"british-isles": 1}
	prior := p.Prior(beetles.Tables())
	require.InDelta(t, 3, prior["Carabidae"]/prior["Attelabidae"]/math.Sqrt(2), 1e-9, "360 species and 20")
	require.Nil(t, DefaultPolicy().Prior(beetles.Tables()))
}

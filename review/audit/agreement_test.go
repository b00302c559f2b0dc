package audit

import (
	"encoding/json"
	"fmt"
	"os"
	"strconv"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"revidit/review"
	"revidit/review/confidence"
	"revidit/review/diagnosis"
	"revidit/review/judgement"
)

// panelOfPlates are closed specimens of which people count the abdominal plates, on the small tables: an observer
// and, of each specimen, what others said.
type panelOfPlates struct {
	t         *testing.T
	judge     *judgement.Judge
	specimens []review.Closed
}

func newPanelOfPlates(t *testing.T) *panelOfPlates {
	t.Helper()
	tables, problems := diagnosis.Load(os.DirFS("../diagnosis/testdata/valid"))
	require.Empty(t, problems)
	return &panelOfPlates{t: t, judge: review.NewJudge(tables)}
}

var firstDayOfPanel = time.Date(2026, 5, 1, 9, 0, 0, 0, time.UTC)

// specimen is recorded by the observer and closed.
func (p *panelOfPlates) specimen(observer, plates string) *review.Submission {
	n := strconv.Itoa(len(p.specimens))
	spec := review.Specimen{ID: "specimen-" + n, Observations: []review.Observation{{ID: "o" + n, Character: "ventrites", State: plates, Sureness: review.Sure,
		By: observer, Role: review.RoleMember, At: firstDayOfPanel}}}
	opened := firstDayOfPanel
	p.specimens = append(p.specimens, review.Closed{Specimen: spec, Submissions: []review.Submission{{ID: "s" + n, Status: review.StatusConfirmed, Specimen: spec.ID,
		Determination: review.Determination{Family: "Elateridae"}, Cites: []string{"o" + n}, OpenedAt: &opened}}})
	return &p.specimens[len(p.specimens)-1].Submissions[0]
}

func blindly(s *review.Submission, by, plates string) {
	s.Blind = append(s.Blind, review.BlindCheck{Observation: s.Cites[0], State: plates, By: by, Role: review.RoleReviewer, Rate: 0.5, At: firstDayOfPanel.Add(time.Hour)})
}

// verdict confirms, or disputes in favour of another number; "?" disputes without one, "-" cannot judge.
func verdict(s *review.Submission, by, shown, plates string) {
	v := review.Verdict{Observation: s.Cites[0], Kind: review.VerdictConfirm, By: by, Role: review.RoleReviewer, At: firstDayOfPanel.Add(2 * time.Hour)}
	switch {
	case plates == "-":
		v.Kind = review.VerdictCannotJudge
	case plates == "?":
		v.Kind = review.VerdictDispute
	case plates != shown:
		v.Kind, v.Better = review.VerdictDispute, plates
	}
	s.Verdicts = append(s.Verdicts, v)
}

func (p *panelOfPlates) agreement() Agreement {
	p.t.Helper()
	a, err := Agree(p.judge, p.specimens, review.NewReliability("small-test-group"), nil)
	require.NoError(p.t, err)
	return a
}

func (a Agreement) set(looks Looks, observer bool) AgreementSet {
	for _, s := range a.Sets {
		if s.Looks == looks && s.Observer == observer {
			return s
		}
	}
	panic("no such set")
}

// fourObservers is the published example with missing values, by observer and unit.
func fourObservers(t *testing.T) (data [][]*float64, nominal, interval float64) {
	t.Helper()
	text, err := os.ReadFile("../confidence/testdata/agreement/krippendorff.json")
	require.NoError(t, err)
	var file struct {
		Example struct {
			Data       [][]*float64
			Recomputed struct{ Nominal, Interval float64 }
			Published  struct{ Nominal, Interval float64 }
		} `json:"four_observers_missing"`
	}
	require.NoError(t, json.Unmarshal(text, &file))
	require.InDelta(t, file.Example.Published.Nominal, file.Example.Recomputed.Nominal, 5e-4)
	require.InDelta(t, file.Example.Published.Interval, file.Example.Recomputed.Interval, 5e-4)
	return file.Example.Data, file.Example.Recomputed.Nominal, file.Example.Recomputed.Interval
}

// TestAgreementIsKrippendorffs: Krippendorff (2011), sections C and D (interval from memory), with the four observers as
// reviewers who count plates blind, and once more as reviewers who answer to what is shown.
func TestAgreementIsKrippendorffs(t *testing.T) {
	data, nominal, interval := fourObservers(t)
	for _, looks := range []Looks{LooksBlind, LooksShown} {
		p := newPanelOfPlates(t)
		for u := range data[0] {
			s := p.specimen("observer", "9")
			for reviewer := range data {
				by := fmt.Sprint("reviewer ", reviewer)
				switch value := data[reviewer][u]; {
				case value == nil && looks == LooksShown:
					verdict(s, by, "9", []string{"-", "?"}[u%2])
				case value == nil:
					s.Blind = append(s.Blind, review.BlindCheck{Observation: s.Cites[0], Kind: review.VerdictNotVisible, By: by, Role: review.RoleReviewer})
				case looks == LooksBlind:
					blindly(s, by, strconv.Itoa(int(*value)+1))
				default:
					verdict(s, by, "9", strconv.Itoa(int(*value)+1))
				}
			}
		}
		set := p.agreement().set(looks, false)
		require.Len(t, set.Characters, 1)
		of := set.Characters[0]
		require.Equal(t, "ventrites", of.Name)
		require.Equal(t, "interval", of.Metric)
		require.InDelta(t, interval, *of.Alpha.Value, 1e-12)
		require.Positive(t, of.Alpha.StandardError)
		require.Positive(t, set.Overall.Alpha.StandardError)
		require.Equal(t, 11, of.Alpha.Units)
		require.Equal(t, 40, of.Alpha.Ratings, "unit 12 has one value only")
		require.Equal(t, 4, of.Persons)
		require.Contains(t, of.Alpha.Warnings, confidence.FewCases)
		require.Nil(t, of.Fleiss)
		require.Equal(t, review.Code("units-fleiss", "least", "2", "most", "4"), *of.FleissWhy)
		require.InDelta(t, nominal, *set.Overall.Alpha.Value, 1e-12, "put together, any difference counts as one")
		require.InDelta(t, nominal, *set.Regions[0].Alpha.Value, 1e-12)
		require.Equal(t, "underside", set.Regions[0].Name)
		other := map[Looks]Looks{LooksBlind: LooksShown, LooksShown: LooksBlind}[looks]
		require.Zero(t, p.agreement().set(other, false).Overall.Alpha.Units, "the two ways of looking are never mixed")
	}
}

// TestPairsAreCohens: a statistical package's print-out on nineteen cases, as quoted in the test suite of statsmodels:
// kappa with linear weights, and in Fleiss' one number of ratings.
func TestPairsAreCohens(t *testing.T) {
	text, err := os.ReadFile("../confidence/testdata/agreement/kappa.json")
	require.NoError(t, err)
	var file struct {
		Example struct {
			Counts    [][]int
			Published struct {
				Linear float64 `json:"kappa_linear_weights"`
			}
		} `json:"two_raters_19_cases"`
	}
	require.NoError(t, json.Unmarshal(text, &file))
	p := newPanelOfPlates(t)
	for a, row := range file.Example.Counts {
		for b, n := range row {
			for range n {
				s := p.specimen("observer", "9")
				blindly(s, "rater a", strconv.Itoa(a+4))
				blindly(s, "rater b", strconv.Itoa(b+4))
			}
		}
	}
	set := p.agreement().set(LooksBlind, false)
	require.Len(t, set.Pairs, 1)
	pair := set.Pairs[0]
	require.Equal(t, []string{"rater a", "rater b"}, []string{pair.A, pair.B})
	require.Equal(t, 19, pair.Units)
	require.Equal(t, 13, pair.Same)
	require.InDelta(t, file.Example.Published.Linear, *pair.Kappa.Value, 5e-5)
	require.Positive(t, pair.Kappa.StandardError)
	require.NotNil(t, set.Overall.Fleiss, "two ratings everywhere")
	require.Equal(t, 38, set.Overall.Fleiss.Ratings)

	with := p.agreement().set(LooksBlind, true)
	require.Len(t, with.Pairs, 3, "the observer is a rater, too")
	require.Equal(t, 57, with.Overall.Fleiss.Ratings)
}

// TestWhatARatingIs: a blind look is the first, a verdict the last that somebody gave; who records what stands there
// already has been shown it; what is taken back is no rating.
func TestWhatARatingIs(t *testing.T) {
	p := newPanelOfPlates(t)
	s := p.specimen("observer", "5")
	spec := &p.specimens[0].Specimen
	spec.Observations = append(spec.Observations,
		review.Observation{ID: "later", Character: "ventrites", State: "7", Sureness: review.Sure, By: "second observer", Role: review.RoleMember, At: firstDayOfPanel.Add(time.Minute)},
		review.Observation{ID: "gone", Character: "ventrites", State: "8", Sureness: review.Sure, By: "third observer", Withdrawn: "mistaken"},
		review.Observation{ID: "mm", Character: "length", State: "8.5", Sureness: review.Sure, By: "observer", At: firstDayOfPanel})
	s.Cites = append(s.Cites, "later", "gone", "mm")
	blindly(s, "rita", "6")
	verdict(s, "rita", "5", "5")
	s.Verdicts = append(s.Verdicts, review.Verdict{Observation: "later", Kind: review.VerdictConfirm, By: "rita", Role: review.RoleReviewer, At: firstDayOfPanel.Add(3 * time.Hour)})
	items, _ := items(p.judge, p.specimens, review.Weighing{})
	require.Len(t, items, 1, "a length takes no part")
	states := func(looks Looks, observer bool) map[string]string {
		out := map[string]string{}
		for _, h := range items[0].heldBy(looks, observer) {
			out[h.person] = p.judge.Tables().Characters[items[0].character].States[h.held()].ID
		}
		return out
	}
	require.Equal(t, map[string]string{"observer": "5", "rita": "6"}, states(LooksBlind, true))
	require.Equal(t, map[string]string{"rita": "6"}, states(LooksBlind, false))
	require.Equal(t, map[string]string{"observer": "5", "second observer": "7", "rita": "7"}, states(LooksShown, true))
	require.Equal(t, map[string]string{"rita": "7"}, states(LooksShown, false))
}

// TestCopyingIsNamed: of four reviewers two share every second count that nobody else has; the others miscount, too, each
// by themselves.
func TestCopyingIsNamed(t *testing.T) {
	p := newPanelOfPlates(t)
	for i := range 40 {
		s := p.specimen("observer", "5")
		for r, by := range []string{"friend a", "friend b", "loner a", "loner b"} {
			said := "5"
			switch {
			case r < 2 && i%2 == 0:
				said = "7"
			case r >= 2 && i%10 == r:
				said = "6"
			}
			verdict(s, by, "5", said)
		}
	}
	copying := p.agreement().Copying
	require.Len(t, copying.Pairs, 6)
	require.InDelta(t, CopyingRisk/6, copying.Limit, 1e-12)
	for i, pair := range copying.Pairs {
		require.Equal(t, i == 0, pair.Named, "%+v", pair)
		require.Equal(t, 40, pair.Units)
	}
	require.Equal(t, []string{"friend a", "friend b"}, []string{copying.Pairs[0].A, copying.Pairs[0].B})
	require.Equal(t, 20, copying.Pairs[0].Observed)
	require.Less(t, copying.Pairs[0].Expected, 2.0)
}

func TestAgreementOfNothing(t *testing.T) {
	a := newPanelOfPlates(t).agreement()
	require.Len(t, a.Sets, 4)
	for _, set := range a.Sets {
		require.Nil(t, set.Overall.Alpha.Value)
		require.Equal(t, []confidence.Warning{confidence.NoCases}, set.Overall.Alpha.Warnings)
		require.Empty(t, set.Characters)
	}
	require.Empty(t, a.Copying.Pairs)
}

package judgement

import (
	"encoding/json"
	"math"
	"os"
	"slices"
	"strings"
	"sync"
	"testing"

	"github.com/stretchr/testify/require"

	"revidit/review/confidence"
	"revidit/review/diagnosis"
)

// What people are taken for here: as package review takes members and reviewers.
const (
	memberReads   = 0.85
	reviewerReads = 0.95
)

func newJudge(t *diagnosis.Tables) *Judge {
	return New(t, Taken{Stated: memberReads, Look: reviewerReads})
}

// shipped is a judge on the beetles that the program brings.
var shipped = sync.OnceValue(func() *Judge { return newJudge(diagnosis.Default()) })

// madeUp is a judge on the small tables of testdata/tables.
var madeUp = sync.OnceValue(func() *Judge {
	tables, problems := diagnosis.Load(os.DirFS("testdata/tables"))
	if len(problems) > 0 {
		panic(problems[0].String())
	}
	return newJudge(tables)
})

// stated makes observations from "character=state" words.
func stated(words ...string) []Stated {
	var out []Stated
	for _, w := range words {
		character, state, _ := strings.Cut(w, "=")
		out = append(out, Stated{Character: character, State: state})
	}
	return out
}

// flags are the contradictions as "kind character=state family".
func flags(a Assessment) []string {
	out := []string{}
	for _, c := range a.Contradictions {
		out = append(out, string(c.Kind)+" "+c.Character+"="+c.State+" "+c.Family)
	}
	return out
}

// ranking lists the hypotheses as Assess does.
func (j *Judge) ranking(p *confidence.Posterior) []Ranked { return j.ranked(j.order(&scratch{}, p)) }

func TestContradictions(t *testing.T) {
	for name, test := range map[string]struct {
		evidence Evidence
		want     []string
	}{
		"plain":    {Evidence{Family: "Aidae", Stated: stated("antenna=saw", "spine=free", "length-mm=12")}, nil},
		"excluded": {Evidence{Family: "Aidae", Stated: stated("spine=fixed")}, []string{"excluded spine=fixed Aidae"}},
		"and a rival": {Evidence{Family: "Aidae", Stated: stated("spine=fixed", "length-mm=35")},
			[]string{"excluded spine=fixed Aidae", "excluded length-mm=35 Aidae", "better-fit spine=fixed Bidae"}},
		"never excludes": {Evidence{Family: "Aidae", Stated: stated("outline=round", "spine=free")},
			[]string{"unusual outline=round Aidae"}},
		"rare": {Evidence{Family: "Aidae", Stated: stated("antenna-segments=10")},
			[]string{"unusual antenna-segments=10 Aidae"}},
		"two forms": {Evidence{Family: "Aidae", Stated: stated("antenna-segments=12", "spine=none", "antenna=thread")},
			[]string{"combination antenna-segments=12 Aidae"}},
		"a form of males": {Evidence{Family: "Aidae", Sex: "male", Stated: stated("spine=none", "antenna=saw")}, nil},
		"not in females": {Evidence{Family: "Aidae", Sex: "female", Stated: stated("spine=none", "antenna=saw", "length-mm=12")},
			[]string{"excluded spine=none Aidae"}},
		"impossible": {Evidence{Stated: stated("antenna=thread", "club-segments=2")},
			[]string{"incompatible antenna=thread "}},
		"more than there are": {Evidence{Stated: stated("club-segments=5", "antenna-segments=4")},
			[]string{"incompatible club-segments=5 "}},
		"too long":             {Evidence{Family: "Bidae", Stated: stated("length-mm=45", "spine=fixed")}, []string{"excluded length-mm=45 Bidae"}},
		"long, with measuring": {Evidence{Family: "Bidae", Stated: stated("length-mm=43", "spine=fixed")}, []string{"unusual length-mm=43 Bidae"}},
		"not on a photo": {Evidence{Family: "Aidae", Views: []string{"above"}, Stated: stated("spine=free", "antenna=saw")},
			[]string{"unseen spine=free Aidae"}},
		"old name":        {Evidence{Family: "Aaidae", Stated: stated("spine=free")}, nil},
		"nothing known":   {Evidence{Family: "Cidae", Stated: stated("outline=round")}, nil},
		"no photo at all": {Evidence{Views: []string{}, Stated: stated("spine=free")}, []string{"unseen spine=free "}},
	} {
		a := madeUp().Assess(test.evidence)
		require.ElementsMatch(t, test.want, flags(a), "%s: %+v", name, a.Contradictions)
		for _, c := range a.Contradictions {
			require.NotEmpty(t, c.Source, name)
		}
	}
}

// What is stored is codes and ids, and citations.
func TestContradictionsAreCodes(t *testing.T) {
	c := madeUp().Assess(Evidence{Family: "Aidae", Stated: stated("antenna=club")}).Contradictions[0]
	require.Equal(t, Contradiction{Kind: Excluded, Character: "antenna", State: "club", Family: "Aidae",
		Source: "First A. 1901. A made-up work, plate 2"}, c)
	c = madeUp().Assess(Evidence{Family: "Bidae", Stated: stated("spine=free")}).Contradictions[0]
	require.Equal(t, "First A. 1901. A made-up work, chapter B (cited from memory)", c.Source)
	c = madeUp().Assess(Evidence{Family: "Aidae", Stated: stated("antenna-segments=12", "spine=none", "antenna=thread")}).Contradictions[0]
	require.Equal(t, []Selected{{"spine", "none"}}, c.With)
	c = madeUp().Assess(Evidence{Stated: stated("antenna=thread", "club-segments=2")}).Contradictions[0]
	require.Equal(t, "thread-with-club", c.Rule)
	better := betterFits(madeUp().Assess(Evidence{Family: "Aidae", Stated: stated("spine=fixed", "length-mm=35")}))[0]
	require.Greater(t, better.Decibans, 10)
	require.False(t, better.Plainly, "a state that never occurs tells most")
}

// caveatOf is the first of a kind; false where there is none.
func caveatOf(a Assessment, kind CaveatKind) (Caveat, bool) {
	at := slices.IndexFunc(a.Caveats, func(c Caveat) bool { return c.Kind == kind })
	if at < 0 {
		return Caveat{}, false
	}
	return a.Caveats[at], true
}

// TestReviewersOverrule: contradictions follow the state that more reviewers give than confirm the stated one.
func TestReviewersOverrule(t *testing.T) {
	report := func(kind ReportKind, better string) Report {
		return Report{Kind: kind, Better: better, Accuracy: 0.95, Anchoring: 0.2}
	}
	first := report(ReportStated, "")
	for name, test := range map[string]struct {
		reports []Report
		want    bool // excluded
	}{
		"nobody looked":         {[]Report{first}, true},
		"confirmed":             {[]Report{first, report(ReportConfirmed, "")}, true},
		"disputed":              {[]Report{first, report(ReportDisputed, "free")}, false},
		"disputed, none better": {[]Report{first, report(ReportDisputed, "")}, true},
		"one against one":       {[]Report{first, report(ReportDisputed, "free"), report(ReportConfirmed, "")}, true},
		"two against one":       {[]Report{first, report(ReportDisputed, "free"), report(ReportBlind, "free"), report(ReportConfirmed, "")}, false},
		"blind and the same":    {[]Report{first, report(ReportBlind, ""), report(ReportDisputed, "free")}, true},
	} {
		a := madeUp().Assess(Evidence{Family: "Aidae", Stated: []Stated{{"spine", "fixed", test.reports}}})
		require.Equal(t, test.want, slices.Contains(flags(a), "excluded spine=fixed Aidae"), name)
	}
	sure := func(reports ...Report) float64 {
		return madeUp().Assess(Evidence{Family: "Bidae", Stated: []Stated{{"spine", "fixed", reports}}}).Confidence
	}
	require.Greater(t, sure(first, report(ReportConfirmed, "")), sure(first))
	require.Greater(t, sure(first, report(ReportBlind, "")), sure(first, report(ReportConfirmed, "")), "a blind look tells more")
	require.Less(t, sure(first, report(ReportDisputed, "free")), sure(first))
	require.Less(t, sure(first, report(ReportDisputed, "")), sure(first))
	for _, better := range []string{"free", ""} {
		one, copied := report(ReportDisputed, better), report(ReportDisputed, better).Repeated()
		require.Less(t, sure(first, one, copied), sure(first, one), "who agrees with a dispute says something")
		require.Greater(t, sure(first, one, copied), sure(first, one, one), "and less than who found it")
	}
	require.Equal(t, report(ReportConfirmed, ""), report(ReportConfirmed, "").Repeated(), "to confirm is to agree with what was shown")
}

// TestAssessmentIsWhole: every number and list of an assessment, whatever the evidence.
func TestAssessmentIsWhole(t *testing.T) {
	j := madeUp()
	for _, e := range []Evidence{
		{}, {Family: "Aidae"}, {Family: "Nobody", Stated: stated("antenna=saw")},
		{Family: "Cidae", Stated: stated("antenna=saw", "antenna=club", "spine=fixed", "length-mm=50", "length-mm=0.6")},
		{Stated: stated("antenna=blue", "nose=long", "bladders=absent", "length-mm=NaN", "length-mm=1000", "club-segments=2.5")},
	} {
		a := j.Assess(e)
		sum := 0.0
		for i, r := range a.Ranking {
			sum += r.P
			require.Greater(t, r.P, 0.0)
			require.Less(t, r.P, 1.0)
			require.True(t, i == 0 || a.Ranking[i-1].P >= r.P)
		}
		require.Len(t, a.Ranking, 4)
		require.InDelta(t, 1, sum, 1e-8)
		odds := 0.0
		for _, w := range a.Why {
			odds += w.Decibans
		}
		require.InDelta(t, a.Odds, odds, 1e-9)
		text, err := json.Marshal(a)
		require.NoError(t, err)
		require.NotContains(t, string(text), "null")
		require.Equal(t, Method, a.Method)
		require.Equal(t, j.Tables().Hash, a.TablesHash)
		slices.Reverse(e.Stated)
		again, err := json.Marshal(j.Assess(e))
		require.NoError(t, err)
		if len(a.Caveats) < 2 {
			require.Equal(t, string(text), string(again), "the order of evidence does not matter")
		}
		require.LessOrEqual(t, len(a.Brief().Next), 8)
	}
}

// What was stored with words repeats what is computed without them, and is no other assessment.
func TestWordsMakeNoDifference(t *testing.T) {
	now := madeUp().Assess(Evidence{Family: "Aidae", Stated: stated("spine=fixed", "length-mm=35")})
	then := now
	then.Caveats, then.Sex, then.Warnings = nil, "", []string{"As it was told once."}
	then.Contradictions = slices.Clone(now.Contradictions)
	for i := range then.Contradictions {
		c := &then.Contradictions[i]
		c.Reason, c.Resolve, c.Decibans, c.Plainly = "As it was told once.", "Look.", 0, false
	}
	require.True(t, then.Repeats(now))
	require.False(t, DifferenceOf(then, now).Noticeable)
	text, err := json.Marshal(Assessment{Contradictions: []Contradiction{}, Warnings: []string{}})
	require.NoError(t, err)
	require.Contains(t, string(text), `"warnings":[]`, "an empty list that was stored is stored again")
	require.NotContains(t, string(text), "caveats")
}

func TestConfidenceWithoutProposal(t *testing.T) {
	a := madeUp().Assess(Evidence{Stated: stated("spine=free", "antenna=saw")})
	require.Empty(t, a.Family)
	require.Equal(t, "Aidae", a.Ranking[0].Family)
	require.Equal(t, a.Ranking[0].P, a.Confidence)
}

func TestCaveats(t *testing.T) {
	warns := func(e Evidence, want Caveat) {
		t.Helper()
		require.Contains(t, madeUp().Assess(e).Caveats, want)
	}
	one := func(character, state string) []Selected { return []Selected{{character, state}} }
	warns(Evidence{}, Caveat{Kind: CaveatNoneStated})
	warns(Evidence{Stated: stated("antenna=club")}, Caveat{Kind: CaveatOneStated, Characters: []string{"antenna"}})
	warns(Evidence{Family: "Aaidae"}, Caveat{Kind: CaveatOldName, Name: "Aaidae", Family: "Aidae"})
	warns(Evidence{Family: "Xidae"}, Caveat{Kind: CaveatNoFamily, Name: "Xidae"})
	same, ok := caveatOf(madeUp().Assess(Evidence{Stated: stated("antenna=club", "club-segments=3")}), CaveatSame)
	require.True(t, ok)
	require.Equal(t, []string{"antenna", "club-segments"}, same.Characters)
	require.Positive(t, same.Decibans)
	warns(Evidence{Stated: stated("bladders=absent")}, Caveat{Kind: CaveatLiveOnly, Stated: one("bladders", "absent")})
	warns(Evidence{Stated: stated("antenna=blue")}, Caveat{Kind: CaveatLeftOut, Stated: one("antenna", "blue")})
	warns(Evidence{Stated: []Stated{{"antenna", "saw", []Report{{Kind: ReportBlind, Better: "blue", Accuracy: 0.9}}}}},
		Caveat{Kind: CaveatReportLeftOut, Stated: one("antenna", "blue")})
	warns(Evidence{Family: "Cidae", Stated: stated("outline=long")}, Caveat{Kind: CaveatGaps, Family: "Cidae", Characters: []string{"outline"}})
	warns(Evidence{Prior: map[string]float64{"Aidae": math.NaN()}}, Caveat{Kind: CaveatList, Name: "Aidae", Weight: "NaN"})
}

func TestClubList(t *testing.T) {
	p := func(prior map[string]float64) map[string]float64 {
		out := map[string]float64{}
		for _, r := range madeUp().Assess(Evidence{Prior: prior}).Ranking {
			out[r.Family] = r.P
		}
		return out
	}
	// Square roots of 100, 400 and 100 species share what "none" leaves.
	require.InDelta(t, 0.49, p(nil)["Bidae"], 1e-8)
	require.InDelta(t, 0.245, p(nil)["Aidae"], 1e-8)
	require.InDelta(t, 0.02, p(nil)[NoneOfThese], 1e-8)
	club := p(map[string]float64{"Aaidae": 3, "Cidae": 1})
	// Bidae, alone not on the list, has a fiftieth of it, which is less than a tenth of the least weight.
	require.InDelta(t, 0.98*3/4.08, club["Aidae"], 1e-8)
	require.InDelta(t, 0.98*0.08/4.08, club["Bidae"], 1e-8)
}

func TestNext(t *testing.T) {
	a := madeUp().Assess(Evidence{Views: []string{"above"}, Stated: stated("antenna=saw")})
	require.Equal(t, "spine", a.Next[0].Character)
	require.True(t, a.Next[0].NeedsPhoto)
	for i, n := range a.Next {
		require.NotEqual(t, "antenna", n.Character)
		require.Greater(t, n.Bits, 0.0)
		require.True(t, i == 0 || a.Next[i-1].Bits >= n.Bits)
	}
	worse := madeUp().Assess(Evidence{Stated: stated("antenna=saw"), Look: Look{ByRegion: map[string]float64{"underside": 0.5}}})
	i := slices.IndexFunc(worse.Next, func(n Next) bool { return n.Character == "spine" })
	require.Less(t, worse.Next[i].Bits, a.Next[0].Bits)
	require.False(t, worse.Next[i].NeedsPhoto)
}

func TestCheckState(t *testing.T) {
	for _, good := range stated("antenna=saw", "club-segments=0", "length-mm=0.5", "length-mm=12.25", "antenna-segments=12") {
		require.NoError(t, madeUp().CheckState(good.Character, good.State))
	}
	for input, want := range map[string]string{
		"nose=long":           `no character "nose"`,
		"antenna=blue":        "allowed are thread, saw, club",
		"antenna=":            "allowed are thread, saw, club",
		"club-segments=6":     "a whole number from 0 to 5",
		"club-segments=2.5":   "a whole number from 0 to 5",
		"length-mm=NaN":       "millimetres from 0.5 to 100",
		"length-mm=long":      "millimetres from 0.5 to 100",
		"length-mm=101":       "millimetres from 0.5 to 100",
		"length-mm=-3":        "millimetres from 0.5 to 100",
		"antenna-segments=-1": "a whole number from 1 to 12",
	} {
		s := stated(input)[0]
		require.ErrorContains(t, madeUp().CheckState(s.Character, s.State), want, input)
	}
}

func TestSmallestDisjoint(t *testing.T) {
	require.Equal(t, []int{1, 2}, smallestDisjoint([]formSet{0b111, 0b011, 0b100}, nil))
	require.Equal(t, []int{0, 1, 2}, smallestDisjoint([]formSet{0b011, 0b110, 0b101}, nil))
	require.Equal(t, []int{0, 3}, smallestDisjoint([]formSet{0b0011, 0b0110, 0b0101, 0b1000}, nil))
}

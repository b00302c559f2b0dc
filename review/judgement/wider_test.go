package judgement

import (
	"slices"
	"testing"

	"github.com/stretchr/testify/require"

	"revidit/review/diagnosis"
)

// widened is a judge on the beetles of the program that knows the orders of insects.
func widened(t *testing.T) *Judge {
	t.Helper()
	all := diagnosis.All()
	at := slices.IndexFunc(all, func(t *diagnosis.Tables) bool { return t.Group.ID == "insect-orders" })
	require.Positive(t, at)
	j := newJudge(all[0])
	j.Widen(newJudge(all[at]))
	return j
}

// noBeetles are insects of other orders as a beginner who takes them for beetles might state them, in the characters of the
// beetle tables (from memory, common practice, no source).
var noBeetles = map[string]Evidence{
	"common earwig as Staphylinidae": {Family: "Staphylinidae", Stated: stated("elytra-cover=short", "antenna-form=filiform", "tarsi-counted=3-3-3",
		"antenna-segments=14", "body-length-mm=13", "body-form=parallel", "ventrites=8", "lustre=not-metallic", "rostrum=none")},
	"cockroach": {Stated: stated("antenna-form=filiform", "antenna-segments=30", "antenna-length=over-whole", "head-from-above=hidden", "body-form=flat",
		"elytra-texture=soft", "elytra-surface=net-veined", "tarsi-counted=5-5-5", "body-length-mm=12", "ventrites=8")},
	"shield bug": {Stated: stated("rostrum=long", "antenna-form=filiform", "antenna-segments=5", "tarsi-counted=3-3-3", "body-form=broad",
		"body-length-mm=12", "elytra-cover=tip-exposed", "elytra-texture=soft")},
}

// The beetle tables cannot name them, and say so; the first questions are of the orders, and an answer to them would tell.
func TestNoBeetle(t *testing.T) {
	j := widened(t)
	for name, e := range noBeetles {
		a := j.Assess(e)
		require.GreaterOrEqual(t, len(a.Next), widerQuestions, name)
		for _, n := range a.Next[:widerQuestions] {
			require.Equal(t, "insect-orders", n.Group, "%s: %v", name, a.Ranking[:3])
		}
		require.Empty(t, a.Next[widerQuestions].Group)
		unfit, ok := caveatOf(a, CaveatUnfit)
		require.True(t, ok, name)
		require.Equal(t, "insect-orders", unfit.Group)
		require.Len(t, unfit.Characters, widerQuestions)
	}
}

// The answers to the questions tell earwigs, cockroaches and bugs from beetles, by the tables of the orders. An earwig has
// tongs, and whoever counts its foot finds three segments (common practice, no source).
func TestWiderQuestionsTell(t *testing.T) {
	j := widened(t)
	var ids []string
	for _, n := range j.wider.questions {
		ids = append(ids, n.Character)
		require.Greater(t, n.Bits, 0.1)
		require.LessOrEqual(t, n.Bits, 1.0)
	}
	require.Contains(t, ids, "forewing-texture")
	at := slices.IndexFunc(diagnosis.All(), func(t *diagnosis.Tables) bool { return t.Group.ID == "insect-orders" })
	orders := newJudge(diagnosis.All()[at])
	for _, c := range readCases(t, "testdata/orders.jsonl") {
		if c.Kind != "plain" || !slices.Contains([]string{"Coleoptera", "Dermaptera", "Blattodea", "Hemiptera"}, c.Family) {
			continue
		}
		var answers []Stated
		for _, s := range c.evidence().Stated {
			if slices.Contains(ids, s.Character) {
				answers = append(answers, s)
			}
		}
		if len(answers) < 2 {
			continue
		}
		a := orders.Assess(Evidence{Stated: answers})
		require.Equal(t, c.Family == "Coleoptera", a.Ranking[0].Family == "Coleoptera", "%s: %v %v", c.Species, answers, a.Ranking[:3])
	}
}

// Plain beetles are not asked whether they are beetles.
func TestBeetlesAreBeetles(t *testing.T) {
	j := widened(t)
	asked, plain := 0, 0
	everyCase(t, func(c specimenCase) {
		if c.Kind != "plain" {
			return
		}
		plain++
		if next := j.Assess(c.evidence()).Next; len(next) > 0 && next[0].Group != "" {
			asked++
		}
	})
	require.Greater(t, plain, 500)
	require.LessOrEqual(t, float64(asked), 0.02*float64(plain), "%d of %d", asked, plain)
}

func TestNewcomersAreAskedFirst(t *testing.T) {
	j := widened(t)
	e := Evidence{Family: "Elateridae", Stated: stated("prosternal-process=click-spine", "antenna-form=serrate", "ventrites=5")}
	known := j.Assess(e)
	require.Empty(t, known.Next[0].Group)
	e.Newcomer = true
	asked := j.Assess(e)
	require.Equal(t, known.Next, asked.Next[widerQuestions:])
	require.Equal(t, j.wider.questions, asked.Next[:widerQuestions])
	require.Equal(t, known.Caveats, asked.Caveats, "nothing is wrong")
	alone := newJudge(diagnosis.Default())
	require.Equal(t, known.Next, alone.Assess(e).Next, "a judge that knows no wider group asks nothing of it")
	alone.Widen(madeUp())
	require.Empty(t, alone.wider.questions, "made-up tables are not those that the group names")
}

func TestThinRecordsSaySo(t *testing.T) {
	one := shipped().Assess(Evidence{Stated: stated("light-organ=present")})
	require.Contains(t, one.Caveats, Caveat{Kind: CaveatOneStated, Characters: []string{"light-organ"}})
	two := shipped().Assess(Evidence{Stated: stated("light-organ=present", "antenna-form=filiform")})
	_, thin := caveatOf(two, CaveatOneStated)
	require.False(t, thin)
}

// One striking state is rare and explained well at once: nobody asks whether a beetle with a light organ is one.
func TestAStrikingStateAloneFitsWell(t *testing.T) {
	j := widened(t)
	for _, state := range []string{"light-organ=present", "mandibles=antler-like"} {
		a := j.Assess(Evidence{Stated: stated(state)})
		_, unfit := caveatOf(a, CaveatUnfit)
		require.False(t, unfit, state)
		_, thin := caveatOf(a, CaveatOneStated)
		require.True(t, thin, state)
		require.Empty(t, a.Next[0].Group, state)
	}
}

// TestWiderAnswersAreHeard: what a newcomer answers first is not asked again, and is held against the other orders: an earwig
// fits these better, and the assessment says so; a beetle does not.
func TestWiderAnswersAreHeard(t *testing.T) {
	j := widened(t)
	told := map[string]bool{}
	for _, c := range readCases(t, "testdata/orders.jsonl") {
		if c.Kind != "plain" || c.Family != "Coleoptera" && c.Family != "Dermaptera" {
			continue
		}
		e := Evidence{Newcomer: true, Stated: stated("antenna-form=filiform", "tarsi-counted=5-5-5")}
		for _, s := range c.evidence().Stated {
			if slices.ContainsFunc(j.WiderQuestions(), func(n Next) bool { return n.Character == s.Character }) {
				e.Wider = append(e.Wider, s)
			}
		}
		if len(e.Wider) < 2 {
			continue
		}
		a := j.Assess(e)
		left := len(j.WiderQuestions()) - len(e.Wider)
		require.Equal(t, left, len(slices.DeleteFunc(slices.Clone(a.Next), func(n Next) bool { return n.Group == "" })), c.Species)
		caveat, warned := caveatOf(a, CaveatWider)
		require.Equal(t, c.Family != "Coleoptera", warned, "%s: %v %v", c.Species, e.Wider, a.Caveats)
		require.True(t, !warned || caveat.Name != "Coleoptera" && len(caveat.Stated) == len(e.Wider) && caveat.Group == "insect-orders", caveat)
		told[c.Family] = true
	}
	require.Len(t, told, 2)
	require.NoError(t, j.CheckWider(j.WiderQuestions()[0].Character, j.wider.judge.tables.Characters[j.wider.judge.tables.CharacterIndex(j.WiderQuestions()[0].Character)].States[0].ID))
	require.Error(t, j.CheckWider("antenna-form", "filiform"))
	require.Error(t, newJudge(diagnosis.Default()).CheckWider("forewing-texture", "horny"))
}

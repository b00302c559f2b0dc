package pages

import (
	"context"
	"math"
	"os"
	"slices"
	"strings"
	"sync"
	"testing"

	"github.com/stretchr/testify/require"
	"golang.org/x/text/language"

	"revidit/review"
	"revidit/review/diagnosis"
	"revidit/review/judgement"
	"revidit/review/service"
	"revidit/web/words"
)

// madeUp is a judge on the small tables of review/judgement/testdata/tables.
var madeUp = sync.OnceValue(func() *judgement.Judge {
	tables, problems := diagnosis.Load(os.DirFS("../../review/judgement/testdata/tables"))
	if len(problems) > 0 {
		panic(problems[0].String())
	}
	return review.NewJudge(tables)
})

// beetles is a judge on the beetles that the program brings, which knows the orders.
var beetles = sync.OnceValue(func() *judgement.Judge {
	return service.NewLibrary(diagnosis.All()...).BuiltIn(diagnosis.Default().Group.ID)
})

func stating(all ...string) []judgement.Stated {
	var out []judgement.Stated
	for _, s := range all {
		character, state, _ := strings.Cut(s, "=")
		out = append(out, judgement.Stated{Character: character, State: state})
	}
	return out
}

// siteBy is a site of a judge's tables and its wider group's, in the language of a context.
func siteBy(ctx context.Context, j *judgement.Judge) Site {
	site := Site{Program: true, Books: []Book{BookIn(ctx, j.Tables())}}
	if wider := j.Wider(); wider != nil {
		site.Books = append(site.Books, BookIn(ctx, wider))
	}
	return site
}

func german(t *testing.T) context.Context { return words.In(t.Context(), language.German) }

// toldBy is an assessment in the words of a language.
func toldBy(ctx context.Context, j *judgement.Judge, e judgement.Evidence) judgement.Assessment {
	return InWords(ctx, siteBy(ctx, j), j.Assess(e), e.Sex)
}

func reasons(a judgement.Assessment) (all []string) {
	for _, c := range a.Contradictions {
		all = append(all, c.Reason)
	}
	return all
}

// The words follow from the shares in testdata/tables.
func TestEveryContradictionIsToldInBothLanguages(t *testing.T) {
	told := map[judgement.ContradictionKind]bool{}
	for name, test := range map[string]struct {
		evidence        judgement.Evidence
		english, german string
	}{
		"excluded": {judgement.Evidence{Family: "Aidae", Stated: stating("antenna=club")},
			"Antenna “clubbed” occurs never in Aidae; there it is mostly “saw-like”.",
			"Antenna „clubbed“ kommt bei Aidae nie vor; dort ist es meist „saw-like“."},
		"excluded in a sex": {judgement.Evidence{Family: "Aidae", Sex: "female", Stated: stating("spine=none", "antenna=saw", "length-mm=12")},
			"Spine “none” occurs never in Aidae; there it is mostly “free”.", "Spine „none“ kommt bei Aidae nie vor; dort ist es meist „free“."},
		"too long": {judgement.Evidence{Family: "Bidae", Stated: stating("length-mm=45", "spine=fixed")},
			"Length of 45 mm occurs never in Bidae, whose species measure 3 to 40 mm.", "Length von 45 mm kommt bei Bidae nie vor; die Arten messen 3 bis 40 mm."},
		"unusual": {judgement.Evidence{Family: "Aidae", Stated: stating("antenna-segments=10")},
			"Segments of the antenna 10 occurs rarely in Aidae; there it is mostly 11.", "Segments of the antenna 10 kommt bei Aidae selten vor; dort ist es meist 11."},
		"long, with measuring": {judgement.Evidence{Family: "Bidae", Stated: stating("length-mm=43", "spine=fixed")},
			"Length of 43 mm occurs rarely in Bidae, whose species measure 3 to 40 mm.", "Length von 43 mm kommt bei Bidae selten vor; die Arten messen 3 bis 40 mm."},
		"combination": {judgement.Evidence{Family: "Aidae", Stated: stating("antenna-segments=12", "spine=none", "antenna=thread")},
			"No form of Aidae shows these together. Segments of the antenna 12 occurs in: many-segmented ones; Spine “none” occurs in: large-headed males.",
			"Keine Form von Aidae zeigt das zusammen. Segments of the antenna 12 kommt vor bei: many-segmented ones; Spine „none“ kommt vor bei: large-headed males."},
		"incompatible": {judgement.Evidence{Stated: stating("antenna=thread", "club-segments=2")},
			"Antenna “thread-like” and Segments of the club 2 cannot both be true: a thread has no club.",
			"Antenna „thread-like“ und Segments of the club 2 können nicht beide stimmen: a thread has no club."},
		"more than there are": {judgement.Evidence{Stated: stating("club-segments=5", "antenna-segments=4")},
			"Segments of the club 5 and Segments of the antenna 4 cannot both be true: the club is part of the antenna.",
			"Segments of the club 5 und Segments of the antenna 4 können nicht beide stimmen: the club is part of the antenna."},
		"unseen": {judgement.Evidence{Views: []string{}, Stated: stating("spine=free")},
			"No photo at hand shows a view in which “Spine” can be seen.", "Kein vorhandenes Foto zeigt eine Ansicht, in der „Spine“ zu sehen ist."},
	} {
		english := toldBy(t.Context(), madeUp(), test.evidence)
		require.Equal(t, test.english, english.Contradictions[0].Reason, name)
		require.Equal(t, test.german, toldBy(german(t), madeUp(), test.evidence).Contradictions[0].Reason, name)
		for _, c := range english.Contradictions {
			told[c.Kind] = true
			require.NotEmpty(t, c.Resolve, name)
		}
	}
	better := judgement.Evidence{Family: "Aidae", Stated: stating("spine=fixed", "length-mm=35")}
	require.Regexp(t, `^Bidae explains what was stated better than Aidae, by \d+ decibans; Spine “fixed” tells most\.$`, reasons(toldBy(t.Context(), madeUp(), better))[2])
	require.Regexp(t, `^Bidae erklärt das Angegebene besser als Aidae, um \d+ Deziban; am meisten sagt Spine „fixed“\.$`, reasons(toldBy(german(t), madeUp(), better))[2])
	require.Len(t, told, len(judgement.ContradictionKinds))
}

// Members read words, and a character that is named because it shows plainly what others weigh more is said to do that.
func TestABetterFitWithAndWithoutDecibans(t *testing.T) {
	a := judgement.Assessment{Family: "Aidae", TablesHash: madeUp().Tables().Hash}
	c := judgement.Contradiction{Kind: judgement.BetterFit, Character: "spine", State: "fixed", Family: "Bidae", Decibans: 12}
	site := siteBy(t.Context(), madeUp())
	require.Equal(t, "Bidae explains what was stated better than Aidae, by 12 decibans; Spine “fixed” tells most.", reasonWords(t.Context(), site, a, "", c))
	site.Program = false
	require.Equal(t, "Bidae explains what was stated better than Aidae; Spine “fixed” tells most.", reasonWords(t.Context(), site, a, "", c))
	c.Plainly = true
	require.Equal(t, "Bidae explains what was stated better than Aidae; Spine “fixed” is what tells most plainly.", reasonWords(t.Context(), site, a, "", c))
	require.Equal(t, "Bidae erklärt das Angegebene besser als Aidae; am deutlichsten sagt es Spine „fixed“.", reasonWords(german(t), site, a, "", c))
	site.Actor.Role = review.RoleReviewer
	require.Equal(t, "Bidae explains what was stated better than Aidae, by 12 decibans; Spine “fixed” is what tells most plainly.", reasonWords(t.Context(), site, a, "", c))
}

func TestWhatWouldSettleIt(t *testing.T) {
	for kind, want := range map[judgement.ContradictionKind][2]string{
		judgement.Excluded: {"Look again at “Antenna”. Look at the outline. Photos that can show it: From above.",
			"Sehen Sie sich „Antenna“ noch einmal an. Look at the outline. Fotos, die es zeigen können: From above."},
		judgement.Incompatible: {"One of the two is misread. Look again at “Antenna”. Look at the outline. Photos that can show it: From above. Look again at “Spine”. Look between the legs. Photos that can show it: From below.",
			"Eine der beiden Angaben ist falsch gelesen. Sehen Sie sich „Antenna“ noch einmal an. Look at the outline. Fotos, die es zeigen können: From above. Sehen Sie sich „Spine“ noch einmal an. Look between the legs. Fotos, die es zeigen können: From below."},
		judgement.Combination: {"One of them is misread, or the family is another. Look again at “Antenna”.", "Eine davon ist falsch gelesen, oder die Familie ist eine andere. Sehen Sie"},
		judgement.Unseen: {"Add a photo, or have the specimen itself looked at. Photos that can show it: From above.",
			"Ergänzen Sie ein Foto, oder lassen Sie das Exemplar selbst ansehen. Fotos, die es zeigen können: From above."},
	} {
		c := judgement.Contradiction{Kind: kind, Character: "antenna", State: "saw"}
		if kind == judgement.Incompatible || kind == judgement.Combination {
			c.With = []judgement.Selected{{Character: "spine", State: "free"}}
		}
		site := siteBy(t.Context(), madeUp())
		require.Contains(t, resolveWords(t.Context(), site, judgement.Assessment{}, c), want[0])
		require.Contains(t, resolveWords(german(t), site, judgement.Assessment{}, c), want[1])
	}
}

// Where the tables of an assessment are not at hand any more nothing is said of what they tell, and of what nobody knows its id.
func TestContradictionsOfTablesThatAreNotAtHand(t *testing.T) {
	a := judgement.Assessment{Family: "Aidae", TablesHash: "gone", Group: madeUp().Tables().Group.ID}
	with := []judgement.Selected{{Character: "gone", State: "x"}}
	for _, test := range []struct {
		c               judgement.Contradiction
		english, german string
	}{
		{judgement.Contradiction{Kind: judgement.Excluded, Character: "antenna", State: "club", Family: "Aidae"}, "Antenna “clubbed” occurs never in Aidae.", "Antenna „clubbed“ kommt bei Aidae nie vor."},
		{judgement.Contradiction{Kind: judgement.Unusual, Character: "gone", State: "x", Family: "Aidae"}, "gone “x” occurs rarely in Aidae.", "gone „x“ kommt bei Aidae selten vor."},
		{judgement.Contradiction{Kind: judgement.Combination, Character: "antenna", State: "club", Family: "Aidae", With: with},
			"No form of Aidae shows these together: Antenna “clubbed”; gone “x”.", "Keine Form von Aidae zeigt das zusammen: Antenna „clubbed“; gone „x“."},
		{judgement.Contradiction{Kind: judgement.Incompatible, Character: "antenna", State: "club", With: with, Rule: "gone"},
			"Antenna “clubbed” and gone “x” cannot both be true.", "Antenna „clubbed“ und gone „x“ können nicht beide stimmen."},
	} {
		site := siteBy(t.Context(), madeUp())
		require.Equal(t, test.english, reasonWords(t.Context(), site, a, "", test.c))
		require.Equal(t, test.german, reasonWords(german(t), site, a, "", test.c))
		require.NotEmpty(t, resolveWords(t.Context(), site, a, test.c))
		require.True(t, site.Lacks(&a))
		site.Formerly = append(site.Formerly, Book{&diagnosis.Tables{Hash: "gone"}})
		require.False(t, site.Lacks(&a))
		require.Equal(t, test.english, reasonWords(t.Context(), site, a, "", test.c), "tables that lack it")
	}
}

// What was stored as words is shown as it was, in English without decibans where these are not shown, and told in German.
func TestRecordedWordsOfContradictions(t *testing.T) {
	site := siteBy(t.Context(), madeUp())
	a := judgement.Assessment{Family: "Aidae", TablesHash: madeUp().Tables().Hash}
	better := judgement.Contradiction{Kind: judgement.BetterFit, Character: "spine", State: "fixed", Family: "Bidae",
		Reason: "Bidae explains what was stated better than Aidae, by 19 decibans; Spine “fixed” is what tells most plainly.", Resolve: "Look."}
	require.Equal(t, better.Reason, reasonWords(t.Context(), site, a, "", better))
	require.Equal(t, "Bidae erklärt das Angegebene besser als Aidae, um 19 Deziban; am deutlichsten sagt es Spine „fixed“.", reasonWords(german(t), site, a, "", better))
	require.Equal(t, "Look.", resolveWords(t.Context(), site, a, better))
	require.Contains(t, resolveWords(german(t), site, a, better), "Sehen Sie sich „Spine“ noch einmal an.")
	site.Program = false
	require.Equal(t, "Bidae explains what was stated better than Aidae; Spine “fixed” is what tells most plainly.", reasonWords(t.Context(), site, a, "", better))
	male := judgement.Contradiction{Kind: judgement.Excluded, Character: "spine", State: "none", Family: "Aidae", Reason: "As it was told once."}
	require.Equal(t, male.Reason, reasonWords(t.Context(), site, a, "female", male))
	require.Equal(t, "Spine „none“ kommt bei Aidae nie vor; dort ist es meist „free“.", reasonWords(german(t), site, a, "female", male), "of the sex on the label")
	a.TablesHash = "gone"
	require.Equal(t, "Spine „none“ kommt bei Aidae nie vor; dort ist es meist „free“.", reasonWords(german(t), site, a, "female", male), "by the tables in force")
	unknown := judgement.Contradiction{Kind: judgement.Excluded, Character: "gone", State: "x", Family: "Aidae", Reason: "As it was told once."}
	require.Equal(t, unknown.Reason, reasonWords(german(t), site, a, "", unknown))
}

// Where a length is all there is, it is named with its unit, everywhere.
func TestLengthsHaveUnits(t *testing.T) {
	a := toldBy(t.Context(), beetles(), judgement.Evidence{Family: "Ptiliidae", Stated: stating("body-length-mm=60", "lustre=not-metallic")})
	require.NotEmpty(t, a.Contradictions)
	for _, c := range a.Contradictions {
		require.NotContains(t, strings.ReplaceAll(c.Reason, "60 mm", ""), "60", c.Reason)
	}
	require.Contains(t, a.Contradictions[0].Reason, "Body length of 60 mm")
}

// Two states that are equally common are not "mostly" one of them; tried on cells of the shipped tables.
func TestEqualSharesAreNotMostly(t *testing.T) {
	tables, tried := beetles().Tables(), 0
	for i := range tables.Families {
		family := &tables.Families[i]
		for k := range tables.Characters {
			c := &tables.Characters[k]
			lacks := func(f diagnosis.Form) bool { return f.Cells[c.ID] == nil }
			if len(c.States) == 0 || slices.ContainsFunc(family.Forms, lacks) {
				continue
			}
			first, second := 0.0, 0.0
			for state := range c.States {
				p, _ := family.Share(c.ID, state)
				if p > first {
					first, second = p, first
				} else if p > second {
					second = p
				}
			}
			told := usualWords(t.Context(), c, judgement.FormsOf(family, ""))
			if first-second < 1e-9 || first <= 0.5-1e-9 {
				tried++
				require.NotContains(t, told, "mostly", "%s %s", family.Name, c.ID)
			}
			if first > 0.75 {
				require.True(t, strings.HasPrefix(told, "mostly "), "%s %s: %s", family.Name, c.ID, told)
			}
		}
	}
	require.Greater(t, tried, 50)
}

// The words follow from the shares in testdata/tables, worked out by hand.
func TestTypicalInWords(t *testing.T) {
	b := BookOf(madeUp().Tables())
	aidae, _ := b.Family("Aidae")
	bidae, _ := b.Family("Bidae")
	cidae, _ := b.Family("Cidae")
	for character, want := range map[string][2]string{
		// Of the 0.8 of Aidae that are not many-segmented, 75 of 87 are saw-like; the rest is always thread-like.
		"antenna":          {"usually saw-like, often thread-like", "usually saw-like, sometimes thread-like"},
		"club-segments":    {"nearly always 0", "nearly always 0"},
		"antenna-segments": {"11 to 12, usually 11", "nearly always 11"},
		"spine":            {"usually free, sometimes none", "nearly always fixed"},
		"outline":          {"nearly always long", "usually long, sometimes round"},
		"bladders":         {"nearly always absent", "nearly always absent"},
		"length-mm":        {"usually 5 to 20 mm", "usually 4 to 18 mm"},
	} {
		require.Equal(t, want, [2]string{b.TypicalWords(t.Context(), aidae, character), b.TypicalWords(t.Context(), bidae, character)}, character)
	}
	require.Equal(t, "not recorded", b.TypicalWords(t.Context(), cidae, "outline"))
	require.Equal(t, "meist saw-like, oft thread-like", b.TypicalWords(german(t), aidae, "antenna"))
	require.Equal(t, "11 bis 12, meist 11", b.TypicalWords(german(t), aidae, "antenna-segments"))
	require.Equal(t, "nicht erfasst", b.TypicalWords(german(t), cidae, "outline"))
	c := &diagnosis.Character{ID: "x", Kind: diagnosis.KindStates, States: []diagnosis.State{{ID: "a", Label: "one"}, {ID: "b", Label: "two"}}}
	f := &diagnosis.Family{Forms: []diagnosis.Form{{Weight: 1, Cells: map[string]*diagnosis.Cell{"x": {P: []float64{0.5, 0.5}}}}}}
	require.Equal(t, "often one or two", typicalWords(t.Context(), f, c))
	require.Equal(t, "oft one oder two", typicalWords(german(t), f, c))
}

func TestEveryCaveatIsToldInBothLanguages(t *testing.T) {
	told := map[judgement.CaveatKind]bool{}
	tell := func(j *judgement.Judge, e judgement.Evidence, kind judgement.CaveatKind, english, inGerman string) {
		t.Helper()
		told[kind] = true
		a := j.Assess(e)
		require.True(t, slices.ContainsFunc(a.Caveats, func(c judgement.Caveat) bool { return c.Kind == kind }), "%v", a.Caveats)
		require.Contains(t, strings.Join(caveatWords(t.Context(), siteBy(t.Context(), j), a), "\n"), english)
		require.Contains(t, strings.Join(caveatWords(german(t), siteBy(german(t), j), a), "\n"), inGerman)
	}
	tell(madeUp(), judgement.Evidence{}, judgement.CaveatNoneStated, "No character is stated: the number is only how common the family is.", "Kein Merkmal ist angegeben")
	tell(madeUp(), judgement.Evidence{Stated: stating("spine=free")}, judgement.CaveatOneStated, "Only one character is stated, Spine: that is thin", "Nur ein Merkmal ist angegeben, Spine:")
	tell(madeUp(), judgement.Evidence{Family: "Aaidae"}, judgement.CaveatOldName, "Aaidae is an old name; its species stand in Aidae today. Included in Aidae since 1999.", "Aaidae ist ein alter Name; seine Arten stehen heute in Aidae. Included")
	tell(madeUp(), judgement.Evidence{Family: "Xidae"}, judgement.CaveatNoFamily, `There is no family "Xidae" in the tables`, "Die Tabellen haben keine Familie „Xidae“")
	tell(madeUp(), judgement.Evidence{Stated: stating("antenna=club", "club-segments=3")}, judgement.CaveatSame, "Antenna and Segments of the club partly say the same, so that each counts less: together by about ", "Antenna und Segments of the club sagen zum Teil dasselbe")
	tell(madeUp(), judgement.Evidence{Stated: stating("bladders=absent")}, judgement.CaveatLiveOnly, `Left out: Bladders "absent" can be stated on a live specimen only.`, "Weggelassen: Bladders, „absent“ lässt sich nur")
	tell(madeUp(), judgement.Evidence{Stated: stating("antenna=blue")}, judgement.CaveatLeftOut, `Left out: Antenna has no state "blue"; allowed are thread-like, saw-like, clubbed.`, "Weggelassen: Antenna hat keine Ausprägung „blue“; erlaubt sind thread-like")
	tell(madeUp(), judgement.Evidence{Stated: stating("nose=long")}, judgement.CaveatLeftOut, `Left out: there is no character "nose" in the tables.`, "Weggelassen: es gibt kein Merkmal „nose“ in den Tabellen.")
	tell(madeUp(), judgement.Evidence{Stated: stating("club-segments=9")}, judgement.CaveatLeftOut, `Segments of the club must be a whole number from 0 to 5, not "9"`, "Segments of the club muss eine ganze Zahl von 0 bis 5 sein, nicht „9“")
	tell(madeUp(), judgement.Evidence{Stated: stating("length-mm=long")}, judgement.CaveatLeftOut, `Length must be millimetres from 0.5 to 100, not "long"`, "Length muss in Millimetern von 0,5 bis 100 sein, nicht „long“")
	tell(madeUp(), judgement.Evidence{Stated: []judgement.Stated{{Character: "antenna", State: "saw", Reports: []judgement.Report{{Kind: judgement.ReportBlind, Better: "blue", Accuracy: 0.9}}}}},
		judgement.CaveatReportLeftOut, `Left out, a report: Antenna has no state "blue"`, "Weggelassen, eine Angabe: Antenna hat")
	tell(madeUp(), judgement.Evidence{Family: "Cidae", Stated: stating("outline=long")}, judgement.CaveatGaps, "The tables of Cidae lack Outline: the average", "Den Tabellen von Cidae fehlen Outline:")
	tell(madeUp(), judgement.Evidence{Prior: map[string]float64{"Aidae": math.NaN()}}, judgement.CaveatList, "The club's list gives Aidae the weight NaN, which is left out", "Die Liste des Vereins gibt Aidae das Gewicht NaN")
	tell(madeUp(), judgement.Evidence{Stated: stating("spine=fixed", "bladders=present", "antenna=thread", "length-mm=90", "club-segments=5")}, judgement.CaveatUnfit,
		"No family of the tables explains these characters well: some are misread, or the family is not in the tables.", "Keine Familie der Tabellen erklärt diese Merkmale gut")
	bug := judgement.Evidence{Stated: stating("rostrum=long", "antenna-form=filiform", "antenna-segments=5", "tarsi-counted=3-3-3", "body-form=broad", "body-length-mm=12",
		"elytra-cover=tip-exposed", "elytra-texture=soft")}
	tell(beetles(), bug, judgement.CaveatUnfit, "or it is none of the Coleoptera at all: look first at ", "oder es gehört gar nicht zu Coleoptera: Sehen Sie zuerst ")
	bug.Wider = widerOf(t, "Dermaptera")
	tell(beetles(), bug, judgement.CaveatWider, "speaks for one of the Dermaptera rather than of the Coleoptera: look at the whole animal again", "spricht eher für Dermaptera als für Coleoptera")
	for _, kind := range judgement.CaveatKinds {
		require.True(t, told[kind], kind)
	}
	gone := judgement.Assessment{TablesHash: "gone", Caveats: []judgement.Caveat{{Kind: judgement.CaveatUnfit}, {Kind: judgement.CaveatOldName, Name: "Aaidae", Family: "Aidae"},
		{Kind: judgement.CaveatLeftOut, Stated: []judgement.Selected{{Character: "nose", State: "long"}}}}}
	require.Equal(t, []string{"No taxon of the tables explains these characters well: some are misread, or the taxon is not in the tables.",
		"Aaidae is an old name; its species stand in Aidae today.", `Left out: nose "long" could not be stated by the tables.`}, caveatWords(t.Context(), Site{}, gone))
}

// widerOf are the answers to the questions of the wider group that speak most for a taxon.
func widerOf(t *testing.T, taxon string) (answers []judgement.Stated) {
	orders := beetles().Wider()
	f, ok := orders.Family(taxon)
	require.True(t, ok)
	for _, n := range beetles().WiderQuestions() {
		c, ok := orders.Character(n.Character)
		require.True(t, ok)
		if typical := judgement.TypicalOf(f, c); typical.Recorded {
			answers = append(answers, judgement.Stated{Character: c.ID, State: c.States[typical.Most.State].ID})
		}
	}
	return answers
}

// Members read no decibans, programs read ids where the program's own lines say them, and what was stored as words is recognized.
func TestCaveatsByWhoReads(t *testing.T) {
	a := madeUp().Assess(judgement.Evidence{Stated: stating("antenna=club", "club-segments=3")})
	site := siteBy(t.Context(), madeUp())
	site.IDs = true
	require.Contains(t, caveatWords(t.Context(), site, a)[0], "antenna and club-segments partly say the same, so that each counts less: together by about ")
	site.IDs, site.Program = false, false
	require.Contains(t, caveatWords(t.Context(), site, a), "Antenna and Segments of the club partly say the same, so that each counts less.")
	former := judgement.Assessment{Warnings: []string{"antenna and club-segments partly say the same, so that each counts less: together by about 3 decibans.",
		`Left out: antenna has no state "blue"; allowed are thread, saw, club.`, "Something that nobody says any more."}}
	require.Equal(t, []string{"Antenna and Segments of the club partly say the same, so that each counts less.",
		`Left out: Antenna has no state "blue"; allowed are thread-like, saw-like, clubbed.`, "Something that nobody says any more."}, caveatWords(t.Context(), site, former))
	site.Program = true
	require.Equal(t, []string{"Antenna und Segments of the club sagen zum Teil dasselbe, deshalb zählt jedes weniger: zusammen um etwa 3 Deziban.",
		"Weggelassen: Antenna hat keine Ausprägung „blue“; erlaubt sind thread-like, saw-like, clubbed.", "Something that nobody says any more."}, caveatWords(german(t), site, former))
}

// Forms, silences, old names and what to expect are told by the tables.
func TestTheRestOfAnAssessmentIsTold(t *testing.T) {
	list := stating("head-from-above=visible", "tarsi-counted=4-4-4", "tarsus-lobed=yes", "body-length-mm=8")
	e := judgement.Evidence{Family: "Curculionidae", Stated: list, Newcomer: true}
	var mentioned []string
	for _, s := range list {
		mentioned = append(mentioned, s.Character)
	}
	e.Free = []judgement.FreeList{{Mentioned: mentioned}}
	a := toldBy(t.Context(), beetles(), e)
	silence := slices.IndexFunc(a.Why, func(w judgement.Weight) bool { return w.Character == "rostrum" })
	require.Equal(t, "no snout was mentioned", a.Why[silence].Silence)
	require.Equal(t, "insect-orders", a.Next[0].Group)
	for i, n := range a.Next {
		require.Equal(t, n.Group != "", n.Expect != "", "%d: %v", i, n)
	}
	require.Empty(t, beetles().Assess(e).Next[0].Expect, "what is told is a copy")
	tortoise := judgement.Evidence{Stated: stating("head-from-above=hidden", "body-form=broad", "antenna-form=filiform", "tarsi-counted=4-4-4", "tarsus-lobed=yes",
		"body-length-mm=7", "rostrum=none", "antenna-insertion=front-of-head", "tarsi-true=4-4-4")}
	require.Equal(t, "tortoise beetles and hispines (Cassidinae)", toldBy(t.Context(), beetles(), tortoise).Forms[0].Name)
	require.NotEqual(t, "tortoise beetles and hispines (Cassidinae)", toldBy(german(t), beetles(), tortoise).Forms[0].Name)
	require.Equal(t, "Included in Aidae since 1999.", toldBy(t.Context(), madeUp(), judgement.Evidence{Family: "Aaidae"}).Remark)
	require.Equal(t, []string{}, toldBy(t.Context(), madeUp(), judgement.Evidence{Family: "Aidae", Stated: stating("spine=free", "outline=long")}).Warnings)
}

func TestTheFirstPolicyIsSaid(t *testing.T) {
	require.Equal(t, "The policy that Revidit starts with.", PolicyReason(t.Context(), review.DefaultPolicy()))
	require.Equal(t, "Die Regeln, mit denen Revidit beginnt.", PolicyReason(german(t), review.DefaultPolicy()))
	require.Equal(t, "as we agreed", PolicyReason(german(t), review.Policy{Version: 2, Reason: "as we agreed"}))
}

package modelstest

import (
	"fmt"
	"slices"
	"time"

	"github.com/stretchr/testify/require"

	"revidit/review"
	"revidit/review/judgement"
	"revidit/review/service"
)

var lists = map[string]func(fixture){
	"a line shows what belongs to it":              lineShows,
	"pages have neither gaps nor repeats":          pagesWhole,
	"filters narrow":                               filtersNarrow,
	"text search takes no signs for wildcards":     textSearch,
	"a whole catalogue number finds what bears it": wholeNumber,
	"drafts are listed for their owner alone":      draftsForOwner,
	"a corrected label shows in lists":             correctedLabelShows,
	"cursors and sizes that nobody gave are told":  badPages,
}

func lineShows(f fixture) {
	require.NoError(f, f.db.Commit(f.Context(), review.Batch{People: []review.Person{{ID: "owner", Name: "Ada"}}}))
	require.NoError(f, f.db.SaveUpload(f.Context(), upload("photo")))
	f.commit(
		event(review.SpecimenStream("sp"), 1, "owner", noon, &review.SpecimenRegistered{ID: "sp",
			Label: review.Label{CatalogueNumber: "C-1", Trip: "Alps 2026", StoragePlace: "Drawer 7"}}),
		event(review.SpecimenStream("sp"), 2, "owner", noon, &review.PhotosAdded{Photos: []review.Photo{{ID: "photo", View: "antenna"}, {ID: "second", View: "label"}}}),
		event(review.SubmissionStream("su"), 1, "owner", noon, &review.Drafted{ID: "su", Proposal: review.Proposal{Group: "adults", Specimen: "sp",
			Photos: []string{"photo", "second"}, Determination: review.Determination{Family: "Elateridae",
				ScientificName: "Agriotes lineatus", Qualifier: review.QualifierCf}}}),
		event(review.SubmissionStream("su"), 2, "owner", noon.Add(time.Second), &review.Submitted{}),
		event(review.SubmissionStream("su"), 3, "owner", noon.Add(time.Second), &review.Assessed{Assessment: judgement.Assessment{
			Confidence: 0.25, Ranking: []judgement.Ranked{{Family: "Buprestidae", P: 0.5}, {Family: "Elateridae", P: 0.25}},
			Contradictions: []judgement.Contradiction{{Kind: judgement.Excluded}, {Kind: judgement.Unseen}},
			Next:           []judgement.Next{{Character: "ventrites", Bits: 0.375}}}, Gain: 0.375}),
		event(review.SubmissionStream("su"), 4, "r1", noon.Add(2*time.Second), &review.VerdictsGiven{Verdicts: []review.Verdict{{By: "r1"}}}),
		event(review.SubmissionStream("su"), 5, "r1", noon.Add(2*time.Second), &review.OpinionGiven{Opinion: review.Opinion{By: "r1"}}),
		event(review.SubmissionStream("su"), 6, "r2", noon.Add(2*time.Second), &review.OpinionGiven{Opinion: review.Opinion{By: "r2"}}),
		event(review.SubmissionStream("su"), 7, "r2", noon.Add(3*time.Second), &review.Held{Until: noon.Add(time.Hour)}),
	)
	opened, until := noon.Add(time.Second), noon.Add(time.Hour)
	want := service.SubmissionLine{ID: "su", Status: review.StatusOpen, Group: "adults", Family: "Elateridae", Qualifier: review.QualifierCf,
		ScientificName: "Agriotes lineatus", Specimen: "sp", CatalogueNumber: "C-1", Trip: "Alps 2026", Drawer: "Drawer 7",
		Owner: "owner", OwnerName: "Ada", Confidence: 0.25, Leading: "Buprestidae", Contradictions: 2, Photo: "photo", Reviewers: 2,
		OpenedAt: &opened, ChangedAt: noon.Add(3 * time.Second), HeldBy: "r2", HeldUntil: &until,
		KnownTo: []string{"owner", "r1", "r2"}, LabelPhotos: []string{"second"}, SpecimenOwner: "owner"}
	lines, next, err := f.db.FindSubmissions(f.Context(), service.SubmissionFilter{}, service.Page{Size: 1})
	require.NoError(f, err)
	require.Empty(f, next)
	require.Equal(f, []service.SubmissionLine{want}, lines)

	queue, next, err := f.db.FindQueue(f.Context(), service.QueueFilter{AsOf: noon.Add(time.Minute)}, service.Page{Size: 1})
	require.NoError(f, err)
	require.Empty(f, next)
	require.Equal(f, []service.QueueLine{{SubmissionLine: want, Gain: 0.375, WaitsSince: opened}}, queue)

	require.NoError(f, f.db.ErasePerson(f.Context(), review.Actor{}, "owner", "left the club"))
	lines, _, err = f.db.FindSubmissions(f.Context(), service.SubmissionFilter{}, service.Page{Size: 1})
	require.NoError(f, err)
	require.Empty(f, lines[0].OwnerName)
}

// pagesWhole: many submissions changed at the same time, so that only the id tells their order.
func pagesWhole(f fixture) {
	var want []string
	for i := range 23 {
		id := fmt.Sprintf("s%02d", i)
		f.add(entry{id: id, owner: "owner", family: "Elateridae", at: noon.Add(time.Duration(i/10) * time.Second)})
		want = append(want, id)
	}
	slices.Reverse(want)
	for _, size := range []int{1, 2, 5, 23, 24, 200} {
		require.Equal(f, want, f.find(service.SubmissionFilter{}, size), "pages of %d", size)
	}
}

func filtersNarrow(f fixture) {
	f.add(entry{id: "a", owner: "ada", family: "Elateridae"})
	f.add(entry{id: "b", owner: "bea", family: "Elateridae", contradictions: 1})
	f.add(entry{id: "c", owner: "bea", family: "Buprestidae", group: "adults"})
	f.commit(event(review.SubmissionStream("c"), 4, "rex", noon, &review.Undetermined{Reason: "worn"}))
	f.add(entry{id: "d", owner: "bea", family: "Buprestidae", group: "larvae", draft: true})
	for name, c := range map[string]struct {
		filter service.SubmissionFilter
		want   []string
	}{
		"none":                         {service.SubmissionFilter{}, []string{"c", "b", "a"}},
		"owner":                        {service.SubmissionFilter{Owner: "bea"}, []string{"c", "b"}},
		"specimen":                     {service.SubmissionFilter{Specimen: "a"}, []string{"a"}},
		"several specimens":            {service.SubmissionFilter{Specimens: []string{"a", "b", "none"}}, []string{"b", "a"}},
		"group":                        {service.SubmissionFilter{Group: "adults"}, []string{"c"}},
		"group with a draft":           {service.SubmissionFilter{Group: "larvae"}, []string{}},
		"group with one's own draft":   {service.SubmissionFilter{Group: "larvae", Owner: "bea", Viewer: "bea"}, []string{"d"}},
		"group and family":             {service.SubmissionFilter{Group: "adults", Family: "Elateridae"}, []string{}},
		"status":                       {service.SubmissionFilter{Status: review.StatusUndetermined}, []string{"c"}},
		"family":                       {service.SubmissionFilter{Family: "Elateridae"}, []string{"b", "a"}},
		"doubtful, one's own":          {service.SubmissionFilter{Doubtful: true, Viewer: "bea"}, []string{"b"}},
		"doubtful, others' still open": {service.SubmissionFilter{Doubtful: true, Viewer: "ada"}, []string{}},
		"together":                     {service.SubmissionFilter{Owner: "bea", Family: "Elateridae", Text: "ELATER"}, []string{"b"}},
		"nothing":                      {service.SubmissionFilter{Owner: "nobody"}, []string{}},
	} {
		require.Equal(f, c.want, f.find(c.filter, 2), name)
	}
	for _, bad := range []service.SubmissionFilter{{Text: "a\x00"}, {Group: "\xff"}} {
		_, _, err := f.db.FindSubmissions(f.Context(), bad, service.Page{Size: 1})
		requireKind(f.T, review.KindInvalid, err)
	}

	counts, err := f.db.CountByStatus(f.Context(), "ada")
	require.NoError(f, err)
	require.Equal(f, map[review.Status]int{review.StatusOpen: 2, review.StatusUndetermined: 1}, counts)
}

// wholeNumber is found before what merely contains it, on every page.
func wholeNumber(f fixture) {
	for _, e := range []entry{{id: "a", catalogue: "NM-12"}, {id: "b", catalogue: "NM-123"}, {id: "c", catalogue: "nm-12"}, {id: "d", catalogue: "X NM-12"}} {
		e.owner, e.family = "o", "Elateridae"
		f.add(e)
	}
	for text, want := range map[string][]string{"NM-12": {"c", "a"}, "nm-123": {"b"}, "NM-1": {"d", "c", "b", "a"}, "M-12": {"d", "c", "b", "a"}} {
		for size := 1; size <= 5; size++ {
			require.Equal(f, want, f.find(service.SubmissionFilter{Text: text}, size), "%s in pages of %d", text, size)
		}
	}
	require.Empty(f, f.find(service.SubmissionFilter{Text: "NM-12", Owner: "p"}, 5))
}

func textSearch(f fixture) {
	f.add(entry{id: "a", owner: "o", catalogue: "AB_100%", family: "Elateridae", name: "Agriotes lineatus"})
	f.add(entry{id: "b", owner: "o", catalogue: "ABx100y", family: "Buprestidae", name: "Buprestis ČÁPI"})
	f.add(entry{id: "c", owner: "o", catalogue: `back\slash`, family: "Carabidae", name: "Carabus größe"})
	for text, want := range map[string][]string{
		"_100": {"a"}, "100%": {"a"}, "0%": {}, "_": {}, "abx": {"b"}, "ab_1": {"a"}, `\`: {}, `K\S`: {"c"}, `"`: {}, `a"b`: {},
		"ELATERIDAE": {"a"}, "agriotes LIN": {"a"}, "čápi": {"b"}, "c\u030ca\u0301pi": {"b"}, "GRÖSSE": {"c"}, "'": {}, "~~~": {},
		"ab": {"b", "a"}, "a": {"b", "a"}, "C": {"c"}, "E": {"a"}, "B": {"c", "b"}, "č": {}, "gr": {}, "Ä": {}, "\n\n": {}, "a\nb": {},
		"idae": {"c", "b", "a"}, "Elateridae Agriotes": {}, "nothing": {},
	} {
		require.Equal(f, want, f.find(service.SubmissionFilter{Text: text}, 10), "%q", text)
	}
}

// draftsForOwner: what was withdrawn as a draft never came before anybody either.
func draftsForOwner(f fixture) {
	f.add(entry{id: "draft", owner: "ada", family: "Elateridae", draft: true})
	f.add(entry{id: "open", owner: "ada", family: "Elateridae"})
	f.add(entry{id: "gone", owner: "ada", family: "Elateridae", draft: true})
	f.commit(event(review.SubmissionStream("gone"), 2, "ada", noon, &review.Withdrawn{Reason: "mistaken"}))

	require.Equal(f, []string{"open"}, f.find(service.SubmissionFilter{}, 10))
	require.Equal(f, []string{"open"}, f.find(service.SubmissionFilter{Family: "Elateridae"}, 10))
	require.Empty(f, f.find(service.SubmissionFilter{Status: review.StatusDraft}, 10))
	require.Equal(f, []string{"open", "gone", "draft"}, f.find(service.SubmissionFilter{Owner: "ada", Viewer: "ada"}, 10))
	require.Equal(f, []string{"draft"}, f.find(service.SubmissionFilter{Owner: "ada", Viewer: "ada", Status: review.StatusDraft}, 10))
	require.Equal(f, []string{"open"}, f.find(service.SubmissionFilter{Owner: "ada", Viewer: "bea"}, 10), "not to somebody else who asks for hers")

	for owner, want := range map[string]map[review.Status]int{
		"ada": {review.StatusDraft: 1, review.StatusOpen: 1, review.StatusWithdrawn: 1},
		"bea": {review.StatusOpen: 1}, "": {review.StatusOpen: 1},
	} {
		counts, err := f.db.CountByStatus(f.Context(), owner)
		require.NoError(f, err)
		require.Equal(f, want, counts, "for %q", owner)
	}
}

func correctedLabelShows(f fixture) {
	f.add(entry{id: "a", owner: "o", catalogue: "wrong", trip: "one", drawer: "1", family: "Elateridae"})
	f.commit(event(review.SpecimenStream("a"), 2, "curator", noon, &review.LabelCorrected{Reason: "misread",
		Label: review.Label{CatalogueNumber: "right", Trip: "two", StoragePlace: "2"}}))
	lines, _, err := f.db.FindSubmissions(f.Context(), service.SubmissionFilter{Text: "RIGHT"}, service.Page{Size: 5})
	require.NoError(f, err)
	require.Len(f, lines, 1)
	require.Equal(f, []string{"right", "two", "2"}, []string{lines[0].CatalogueNumber, lines[0].Trip, lines[0].Drawer})
	require.Empty(f, f.find(service.SubmissionFilter{Text: "wrong"}, 5))
	require.Equal(f, []string{"a"}, f.queue(service.QueueFilter{AsOf: noon, Trip: "two", Drawer: "2"}, 5))
	require.Empty(f, f.queue(service.QueueFilter{AsOf: noon, Trip: "one"}, 5))
}

func badPages(f fixture) {
	f.add(entry{id: "a", owner: "o", family: "Elateridae"})
	f.add(entry{id: "b", owner: "o", family: "Elateridae"})
	_, ofList, err := f.db.FindSubmissions(f.Context(), service.SubmissionFilter{}, service.Page{Size: 1})
	require.NoError(f, err)
	_, ofQueue, err := f.db.FindQueue(f.Context(), service.QueueFilter{AsOf: noon}, service.Page{Size: 1})
	require.NoError(f, err)
	bad := []string{"x", "!!", "{}", "[]", "null", `{"id":"a"}`, "\xff", ofList[:len(ofList)-3],
		`{"changed_at":"2026-01-01T00:00:00Z","id":"a\u0000"}`, `{"given":1}`, `{"given":1,"gain":{"urgency":1}}`,
		`{"given":5,"gain":{"urgency":1,"id":"a"}}`, `{"given":1,"gain":{"urgency":"much","id":"a"}}`, `{"given":1,"wait":{"urgency":1,"id":"a\u0000"}}`}
	for _, cursor := range append(bad, ofQueue) {
		_, _, err := f.db.FindSubmissions(f.Context(), service.SubmissionFilter{}, service.Page{Size: 1, Cursor: cursor})
		requireKind(f.T, review.KindInvalid, err)
		require.ErrorContains(f, err, "cursor:")
	}
	for _, cursor := range append(bad, ofList) {
		_, _, err := f.db.FindQueue(f.Context(), service.QueueFilter{AsOf: noon}, service.Page{Size: 1, Cursor: cursor})
		requireKind(f.T, review.KindInvalid, err)
		require.ErrorContains(f, err, "cursor:")
	}
	for _, size := range []int{-1, 0, 201} {
		_, _, err := f.db.FindSubmissions(f.Context(), service.SubmissionFilter{}, service.Page{Size: size})
		requireKind(f.T, review.KindInvalid, err)
		_, _, err = f.db.FindQueue(f.Context(), service.QueueFilter{AsOf: noon}, service.Page{Size: size})
		requireKind(f.T, review.KindInvalid, err)
	}
}

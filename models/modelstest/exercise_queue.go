package modelstest

import (
	"fmt"
	"time"

	"github.com/stretchr/testify/require"

	"revidit/review"
	"revidit/review/service"
)

var queues = map[string]func(fixture){
	"four of five go by gain, one by waiting":   queueOrder,
	"what somebody has judged is gone for them": notJudgedTwice,
	"the order is that of the definition":       queueByDefinition,
	"the queue has open submissions of others":  queueOfOthers,
	"queue pages are cut from one order":        queuePages,
	"a hold shows in the queue until it is out": queueHold,
}

const day = 24 * time.Hour

// queueOrder: of five places four go by gain and one to who has waited longest.
func queueOrder(f fixture) {
	asOf := noon.Add(100 * day)
	ago := func(days int) time.Time { return asOf.Add(-time.Duration(days) * day) }
	f.add(entry{id: "telling", owner: "o", family: "E", at: ago(1), gain: 0.75})
	f.add(entry{id: "waited", owner: "o", family: "E", at: ago(15)})
	f.add(entry{id: "dull", owner: "o", family: "E", at: ago(3), gain: 0.05})
	f.add(entry{id: "ancient", owner: "o", family: "E", at: ago(60), gain: 0.25})
	f.add(entry{id: "tie-b", owner: "o", family: "E", at: ago(0), gain: 0.5})
	f.add(entry{id: "tie-a", owner: "o", family: "E", at: ago(0), gain: 0.5})
	f.add(entry{id: "future", owner: "o", family: "E", at: asOf.Add(day), gain: 0}) // another clock
	f.add(entry{id: "sure", owner: "o", family: "E", at: ago(0), gain: 3})          // as much as a gain can be
	f.add(entry{id: "faint", owner: "o", family: "E", at: ago(5), gain: 0.0000004}) // less than is counted

	lines, next, err := f.db.FindQueue(f.Context(), service.QueueFilter{AsOf: asOf}, service.Page{Size: 200})
	require.NoError(f, err)
	require.Empty(f, next)
	var got []place
	for _, l := range lines {
		got = append(got, place{id: l.ID, gain: l.Gain, longest: l.LongestWaiting})
	}
	require.Equal(f, []place{{id: "sure", gain: 1}, {id: "telling", gain: 0.75}, {id: "tie-a", gain: 0.5}, {id: "tie-b", gain: 0.5},
		{id: "ancient", gain: 0.25, longest: true}, {id: "dull", gain: 0.05}, {id: "waited", longest: true}, {id: "faint", longest: true},
		{id: "future", longest: true}}, got)
}

// notJudgedTwice: who has judged is asked again when there is something new to see.
func notJudgedTwice(f fixture) {
	f.add(entry{id: "a", owner: "o", gain: 0.5})
	f.add(entry{id: "b", owner: "o", gain: 0.25})
	queueOf := func(viewer string) []string { return f.queue(service.QueueFilter{AsOf: noon, Viewer: viewer}, 5) }
	verdict := func(person string) *review.VerdictsGiven {
		return &review.VerdictsGiven{Verdicts: []review.Verdict{{Observation: "o", Kind: review.VerdictConfirm, By: person}}}
	}
	require.Equal(f, []string{"a", "b"}, queueOf("bob"))
	f.next("a", "bob", noon, verdict("bob"))
	f.next("b", "cyd", noon, &review.OpinionGiven{Opinion: review.Opinion{By: "cyd"}})
	judged := func() {
		f.Helper()
		require.Equal(f, []string{"b"}, queueOf("bob"))
		require.Equal(f, []string{"a"}, queueOf("cyd"))
		require.Equal(f, []string{"a", "b"}, queueOf("dan"))
		require.Equal(f, []string{"a", "b"}, queueOf(""), "nobody in particular")
	}
	judged()
	f.next("a", "dan", noon, &review.BlindChecked{Check: review.BlindCheck{By: "dan"}}, &review.Held{Until: noon}, &review.Assessed{Gain: 0.375})
	judged()
	f.next("a", "cyd", noon, verdict("cyd"))
	require.Equal(f, []string{"b"}, queueOf("bob"), "what others say is nothing new")
	require.NoError(f, f.db.Rebuild(f.Context()))
	require.Empty(f, queueOf("cyd"))
	require.Equal(f, 1, f.submission("a").Evidence)

	f.next("a", "o", noon, &review.Answered{Answer: review.Answer{By: "o", Text: "a photo"}})
	require.Equal(f, 2, f.submission("a").Evidence)
	for range 2 { // the second time after a rebuild
		require.Equal(f, []string{"a", "b"}, queueOf("bob"))
		require.Equal(f, []string{"a"}, queueOf("cyd"))
		require.NoError(f, f.db.Rebuild(f.Context()))
	}
	f.next("a", "bob", noon, verdict("bob"))
	require.Equal(f, []string{"b"}, queueOf("bob"))
	f.next("b", "rex", noon, &review.Undetermined{})
	f.next("b", "rex", noon, &review.Reopened{})
	require.Equal(f, []string{"a", "b"}, queueOf("cyd"))
}

func queueOfOthers(f fixture) {
	f.add(entry{id: "mine", owner: "me", family: "Elateridae"})
	f.add(entry{id: "named", owner: "her", determiner: "him", family: "Elateridae"})
	f.add(entry{id: "yours", owner: "you", family: "Elateridae", trip: "Alps", drawer: "1"})
	f.add(entry{id: "other", owner: "you", family: "Buprestidae", trip: "Alps", drawer: "2", group: "adults"})
	f.add(entry{id: "draft", owner: "you", family: "Elateridae", draft: true})
	f.add(entry{id: "closed", owner: "you", family: "Elateridae"})
	f.commit(event(review.SubmissionStream("closed"), 4, "rex", noon, &review.Undetermined{Reason: "worn"}))
	f.add(entry{id: "returned", owner: "you", family: "Elateridae"})
	f.commit(event(review.SubmissionStream("returned"), 4, "rex", noon, &review.Returned{Return: review.Return{ID: "r", Want: review.WantSpecimen}}))
	for name, c := range map[string]struct {
		filter service.QueueFilter
		want   []string
	}{
		"all":     {service.QueueFilter{}, []string{"mine", "named", "other", "yours"}},
		"others'": {service.QueueFilter{Viewer: "me"}, []string{"named", "other", "yours"}},
		"owned":   {service.QueueFilter{Viewer: "her"}, []string{"mine", "other", "yours"}},
		"named":   {service.QueueFilter{Viewer: "him"}, []string{"mine", "other", "yours"}},
		"behind":  {service.QueueFilter{Viewer: "me", Machines: "x her"}, []string{"other", "yours"}},
		"behind2": {service.QueueFilter{Viewer: "me", Machines: "him you"}, []string{}},
		"family":  {service.QueueFilter{Viewer: "me", Family: "Elateridae"}, []string{"named", "yours"}},
		"trip":    {service.QueueFilter{Trip: "Alps"}, []string{"other", "yours"}},
		"group":   {service.QueueFilter{Group: "adults"}, []string{"other"}},
		"none of": {service.QueueFilter{Group: "adults", Viewer: "you"}, []string{}},
		"drawer":  {service.QueueFilter{Trip: "Alps", Drawer: "2"}, []string{"other"}},
		"nothing": {service.QueueFilter{Trip: "alps"}, []string{}},
	} {
		c.filter.AsOf = noon
		require.Equal(f, c.want, f.queue(c.filter, 2), name)
	}
	for _, bad := range []service.QueueFilter{{Family: "\xff"}, {Group: "\xff"}, {Viewer: "\xff"}} {
		_, _, err := f.db.FindQueue(f.Context(), bad, service.Page{Size: 1})
		requireKind(f.T, review.KindInvalid, err)
	}
}

// queuePages: pages are asked for minutes apart.
func queuePages(f fixture) {
	for i := range 40 {
		at := noon.Add(-time.Duration(i%7) * 37 * time.Minute)
		f.add(entry{id: fmt.Sprintf("s%02d", i), owner: "o", family: "Elateridae", at: at, gain: float64(i%5) / 600})
	}
	filter := service.QueueFilter{AsOf: noon.Add(time.Hour)}
	want := f.queue(filter, 200)
	require.Len(f, want, 40)
	for _, size := range []int{1, 3, 7, 39, 40} {
		require.Equal(f, want, f.queue(filter, size), "pages of %d", size)
	}
}

func queueHold(f fixture) {
	f.add(entry{id: "a", owner: "o", family: "Elateridae"})
	until := noon.Add(30 * time.Minute)
	f.commit(event(review.SubmissionStream("a"), 4, "rex", noon, &review.Held{Until: until}))
	for asOf, holder := range map[time.Time]string{noon: "rex", until.Add(-time.Microsecond): "rex", until: "", until.Add(day): ""} {
		lines, _, err := f.db.FindQueue(f.Context(), service.QueueFilter{AsOf: asOf}, service.Page{Size: 1})
		require.NoError(f, err)
		require.Equal(f, holder, lines[0].HeldBy, "%s", asOf)
		require.Equal(f, holder == "", lines[0].HeldUntil == nil, "%s", asOf)
	}
}

package modelstest

import (
	"time"

	"github.com/stretchr/testify/require"

	"revidit/review"
	"revidit/review/service"
)

var rechecks = map[string]func(fixture){
	"lists tell the dice and who knows a submission":     listsTellDraws,
	"a recheck waits for those who do not know it":       recheckWaits,
	"a recheck waits from when it was drawn":             recheckWaitsSince,
	"a recheck is gone when the panel is complete":       recheckCompletes,
	"a recheck is gone when the submission is reopened":  recheckReopened,
	"who knows another submission is asked for no panel": recheckOfSibling,
}

// lineOf is the line of a submission in a list of all.
func (f fixture) lineOf(id string) service.SubmissionLine {
	f.Helper()
	lines, _, err := f.db.FindSubmissions(f.Context(), service.SubmissionFilter{}, service.Page{Size: 200})
	require.NoError(f, err)
	for _, l := range lines {
		if l.ID == id {
			return l
		}
	}
	require.Fail(f, "no line", id)
	return service.SubmissionLine{}
}

// next commits what happens to a submission at a time, after what is stored.
func (f fixture) next(id, actor string, at time.Time, changes ...review.Change) {
	f.Helper()
	seq := f.submission(id).Seq
	var events []review.Event
	for i, c := range changes {
		events = append(events, event(review.SubmissionStream(id), seq+i+1, actor, at, c))
	}
	f.commit(events...)
}

func listsTellDraws(f fixture) {
	f.add(entry{id: "plain", owner: "ada", family: "Elateridae"})
	draw := review.Draw{Rate: 1.0 / 3, Seed: "a seed / with \"signs\" %_"}
	specimen, submission := review.SpecimenStream("drawn"), review.SubmissionStream("drawn")
	f.commit(event(specimen, 1, "ada", noon, &review.SpecimenRegistered{ID: "drawn"}),
		event(submission, 1, "ada", noon, &review.Drafted{ID: "drawn", Proposal: review.Proposal{Specimen: "drawn",
			Determination: review.Determination{Family: "Elateridae", Determiner: "old hand"}}}),
		event(submission, 2, "ada", noon, &review.Submitted{Draw: &draw}))
	f.next("drawn", "bob", noon, &review.BlindChecked{Check: review.BlindCheck{Observation: "o", State: "serrate", By: "bob", Rate: draw.Rate}})
	f.next("drawn", "cyd", noon, &review.VerdictsGiven{Verdicts: []review.Verdict{{Observation: "o", By: "cyd"}}},
		&review.OpinionGiven{Opinion: review.Opinion{By: "cyd"}})
	f.next("drawn", "dan", noon, &review.Returned{Return: review.Return{ID: "r", By: "dan"}})

	require.Nil(f, f.lineOf("plain").Draw)
	line := f.lineOf("drawn")
	require.Equal(f, &draw, line.Draw, "the dice come back bit for bit")
	stored := f.submission("drawn")
	require.ElementsMatch(f, stored.KnownTo(), []string{"ada", "old hand", "bob", "cyd", "dan"})
	require.False(f, line.RecheckOpen)
}

// closed adds a submission that is confirmed and drawn for a recheck by a panel of three, some days after noon.
func (f fixture) closed(id string, days int) {
	f.Helper()
	f.add(entry{id: id, owner: "ada", family: "Elateridae", trip: "Alps", gain: 0.9, gains: []review.RegionGain{{Region: "head", Gain: 0.9}}})
	f.next(id, "bob", noon, &review.OpinionGiven{Opinion: review.Opinion{Kind: review.OpinionAgrees, By: "bob"}})
	f.next(id, "bob", noon.Add(time.Duration(days)*day), &review.Confirmed{}, &review.RecheckDrawn{Rate: 0.05, Panel: 3})
}

func opinionOf(person string) *review.PanelOpinionGiven {
	return &review.PanelOpinionGiven{Opinion: review.PanelOpinion{Family: "Elateridae", By: person}}
}

func recheckWaits(f fixture) {
	f.closed("r", 1)
	f.add(entry{id: "open", owner: "zoe", family: "Elateridae", trip: "Alps", at: noon.Add(10 * day)})
	require.Equal(f, []string{"ada", "bob"}, f.lineOf("r").KnownTo)
	require.True(f, f.lineOf("r").RecheckOpen)
	require.False(f, f.lineOf("open").RecheckOpen)
	f.next("r", "cyd", noon, opinionOf("cyd"))
	f.next("r", "dan", noon, &review.PanelLeft{})

	for name, c := range map[string]struct {
		filter service.QueueFilter
		want   []string
	}{
		"somebody":                  {service.QueueFilter{Viewer: "eve", Rechecks: true}, []string{"r", "open"}},
		"somebody, by trip":         {service.QueueFilter{Viewer: "eve", Rechecks: true, Trip: "Alps"}, []string{"r", "open"}},
		"nobody in particular":      {service.QueueFilter{Rechecks: true}, []string{"r", "open"}},
		"who is not asked":          {service.QueueFilter{Viewer: "eve"}, []string{"open"}},
		"with a family":             {service.QueueFilter{Viewer: "eve", Rechecks: true, Family: "Elateridae"}, []string{"open"}},
		"its owner":                 {service.QueueFilter{Viewer: "ada", Rechecks: true}, []string{"open"}},
		"who has reviewed it":       {service.QueueFilter{Viewer: "bob", Rechecks: true}, []string{"open"}},
		"who has been on the panel": {service.QueueFilter{Viewer: "cyd", Rechecks: true}, []string{"open"}},
		"who has left the panel":    {service.QueueFilter{Viewer: "dan", Rechecks: true}, []string{"open"}},
		"the owner of the other":    {service.QueueFilter{Viewer: "zoe", Rechecks: true}, []string{"r"}},
		"a name in capitals":        {service.QueueFilter{Viewer: "CYD", Rechecks: true}, []string{"r", "open"}},
		"a part of a name":          {service.QueueFilter{Viewer: "cy", Rechecks: true}, []string{"r", "open"}},
		"a pattern":                 {service.QueueFilter{Viewer: "c%", Rechecks: true}, []string{"r", "open"}},
	} {
		c.filter.AsOf = noon.Add(20 * day) // the recheck has waited 19 days, the other one 10
		require.Equal(f, c.want, f.queue(c.filter, 1), name)
	}
}

func recheckWaitsSince(f fixture) {
	f.closed("r", 10)
	asOf := noon.Add(25 * day)
	weights := map[string]float64{"head": 2}
	lines, _, err := f.db.FindQueue(f.Context(), service.QueueFilter{AsOf: asOf, Viewer: "eve", Rechecks: true, Weights: weights}, service.Page{Size: 5})
	require.NoError(f, err)
	require.Len(f, lines, 1)
	line := lines[0]
	require.True(f, line.Recheck)
	require.True(f, line.RecheckOpen)
	require.Equal(f, noon.Add(10*day), line.WaitsSince)
	require.Equal(f, noon, *line.OpenedAt)
	require.Zero(f, line.Gain, "a look tells nothing of a closed one")
	require.Empty(f, line.Region)
	require.Equal(f, 0.5, line.Priority, "15 of 30 days")
}

func recheckCompletes(f fixture) {
	f.closed("r", 1)
	filter := service.QueueFilter{AsOf: noon.Add(5 * day), Viewer: "eve", Rechecks: true}
	for _, person := range []string{"cyd", "dan", "fay"} {
		require.Equal(f, []string{"r"}, f.queue(filter, 5))
		f.next("r", person, noon.Add(2*day), opinionOf(person))
	}
	require.Empty(f, f.queue(filter, 5))
	require.False(f, f.lineOf("r").RecheckOpen)
}

func recheckReopened(f fixture) {
	f.closed("r", 1)
	f.next("r", "rex", noon.Add(3*day), &review.Reopened{Reason: "look again"})
	lines, _, err := f.db.FindQueue(f.Context(), service.QueueFilter{AsOf: noon.Add(3 * day), Viewer: "eve"}, service.Page{Size: 5})
	require.NoError(f, err)
	require.Len(f, lines, 1)
	line := lines[0]
	require.False(f, line.Recheck)
	require.Equal(f, noon.Add(3*day), line.WaitsSince)
	require.Equal(f, 0.9, line.Gain, "it is as before it was closed")
	require.Equal(f, "head", line.Region)
}

// recheckOfSibling: a specimen that somebody has reviewed under another name cannot be looked at blind.
func recheckOfSibling(f fixture) {
	f.closed("r", 1)
	filter := func(viewer string) service.QueueFilter {
		return service.QueueFilter{AsOf: noon.Add(5 * day), Viewer: viewer, Rechecks: true, Trip: "Alps"}
	}
	sibling := review.SubmissionStream("sibling")
	f.commit(event(sibling, 1, "gus", noon, &review.Drafted{ID: "sibling", Proposal: review.Proposal{Specimen: "r", Determination: review.Determination{Determiner: "gus"}}}))
	require.Equal(f, []string{"r"}, f.queue(filter("gus"), 5), "a draft tells nothing")
	f.commit(event(sibling, 2, "gus", noon, &review.Submitted{}), event(sibling, 3, "eve", noon, &review.Returned{Return: review.Return{ID: "w", By: "eve"}}))
	require.Empty(f, f.queue(filter("gus"), 5))
	require.Empty(f, f.queue(filter("eve"), 5))
	require.Equal(f, []string{"r"}, f.queue(filter("fay"), 5))
}

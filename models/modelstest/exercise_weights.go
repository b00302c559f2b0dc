package modelstest

import (
	"fmt"
	"math"
	"slices"

	"github.com/stretchr/testify/require"

	"revidit/review"
	"revidit/review/service"
)

var weights = map[string]func(fixture){
	"the queue is weighed for who asks":        queueWeighed,
	"gains are those of the latest assessment": gainsOfLatest,
	"pages keep the weights of the first":      pagesKeepWeights,
	"weights that are none are told":           badWeights,
}

// looks are the lines of the queue as text: id, gain, region.
func (f fixture) looks(filter service.QueueFilter) []string {
	f.Helper()
	lines, next, err := f.db.FindQueue(f.Context(), filter, service.Page{Size: 200})
	require.NoError(f, err)
	require.Empty(f, next)
	var out []string
	for _, l := range lines {
		out = append(out, fmt.Sprint(l.ID, " ", l.Gain, " ", l.Region))
	}
	return out
}

func gains(of ...any) []review.RegionGain {
	var out []review.RegionGain
	for i := 0; i+1 < len(of); i += 2 {
		out = append(out, review.RegionGain{Region: of[i].(string), Gain: of[i+1].(float64)})
	}
	return out
}

func queueWeighed(f fixture) {
	f.add(entry{id: "heads", owner: "o", gain: 0.5, gains: gains("head", 0.5, "legs", 0.25)})
	f.add(entry{id: "legs", owner: "o", gain: 0.375, gains: gains("legs", 0.375, "head", 0.125)})
	f.add(entry{id: "former", owner: "o", gain: 0.3}) // of a time without gains by region
	f.add(entry{id: "nothing", owner: "o"})
	weighed := func(weights map[string]float64) []string {
		return f.looks(service.QueueFilter{AsOf: noon, Weights: weights})
	}
	require.Equal(f, []string{"heads 0.5 head", "legs 0.375 legs", "former 0.3 ", "nothing 0 "}, weighed(nil))
	require.Equal(f, weighed(nil), weighed(map[string]float64{"head": 1, "wings": 0}), "1 is as nothing said")
	require.Equal(f, []string{"legs 0.75 legs", "heads 0.5 head", "former 0.3 ", "nothing 0 "}, weighed(map[string]float64{"legs": 2}), "legs of heads: as much, but the head comes first")
	require.Equal(f, []string{"legs 0.375 legs", "former 0.3 ", "heads 0.25 legs", "nothing 0 "}, weighed(map[string]float64{"head": 0.25}))
	require.Equal(f, []string{"former 0.3 ", "heads 0 ", "legs 0 ", "nothing 0 "}, weighed(map[string]float64{"head": 0, "legs": 0}), "a coin tells nothing anywhere")
	require.Equal(f, []string{"heads 0.5 legs", "legs 0.75 legs"}, slices.Sorted(slices.Values(weighed(map[string]float64{"legs": 2, "head": 0.99})[:2])))
	require.Equal(f, weighed(nil), weighed(map[string]float64{"Head": 3, "head ": 3, "%": 3}), "regions are named exactly")
}

func gainsOfLatest(f fixture) {
	f.add(entry{id: "a", owner: "o", gain: 0.5, gains: gains("head", 0.5, "legs", 0.25, "body", 0.125)})
	f.next("a", "o", noon, &review.Assessed{Gain: 0.0625, Gains: gains("wings", 0.0625)})
	require.Equal(f, []string{"a 0.0625 wings"}, f.looks(service.QueueFilter{AsOf: noon, Weights: map[string]float64{"head": 9, "legs": 9}}))
	require.NoError(f, f.db.Rebuild(f.Context()))
	require.Equal(f, []string{"a 0.0625 wings"}, f.looks(service.QueueFilter{AsOf: noon}))
	older := f.submission("a")
	older.Seq, older.Gains = older.Seq-1, gains("head", 0.5)
	require.NoError(f, f.db.Commit(f.Context(), review.Batch{Submissions: []review.Submission{older}}))
	require.Equal(f, []string{"a 0.0625 wings"}, f.looks(service.QueueFilter{AsOf: noon}), "an older row brings no gains")
	f.next("a", "o", noon, &review.Assessed{})
	require.Equal(f, []string{"a 0 "}, f.looks(service.QueueFilter{AsOf: noon}))
}

// pagesKeepWeights: something is learnt about the reader between two pages.
func pagesKeepWeights(f fixture) {
	for i := range 30 {
		f.add(entry{id: fmt.Sprintf("s%02d", i), owner: "o", gain: 0.5,
			gains: gains("head", float64(i%7)/8, "legs", float64(i%5)/16, "under side \"é\"", 0.03125)})
	}
	weights := map[string]float64{"legs": 1.5, "under side \"é\"": 0.123456789}
	for i := range 8 {
		weights[fmt.Sprint("region-", i)] = 0.875
	}
	filter := service.QueueFilter{AsOf: noon, Weights: weights}
	want := f.queue(filter, 200)
	require.Len(f, want, 30)
	for _, size := range []int{1, 4, 29} {
		filter.Weights = weights
		got := f.pages(func(page service.Page) ([]string, string, error) {
			lines, next, err := f.db.FindQueue(f.Context(), filter, page)
			filter.Weights = map[string]float64{"head": float64(len(lines)), "legs": 0.25}
			ids := []string{}
			for _, l := range lines {
				ids = append(ids, l.ID)
			}
			return ids, next, err
		}, size)
		require.Equal(f, want, got, "pages of %d", size)
	}
}

func badWeights(f fixture) {
	many := map[string]float64{}
	for i := range 101 {
		many[fmt.Sprint("region-", i)] = 2
	}
	for _, weights := range []map[string]float64{{"head": -0.5}, {"head": math.NaN()}, {"head": math.Inf(1)}, {"\xff": 1}, {"a\x00b": 2}, many} {
		_, _, err := f.db.FindQueue(f.Context(), service.QueueFilter{AsOf: noon, Weights: weights}, service.Page{Size: 1})
		requireKind(f.T, review.KindInvalid, err)
	}
}

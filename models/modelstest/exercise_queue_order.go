package modelstest

import (
	"cmp"
	"fmt"
	"math"
	"math/rand/v2"
	"slices"
	"time"

	"github.com/stretchr/testify/require"

	"revidit/review"
	"revidit/review/service"
)

// waiting is what a made-up queue holds, as the words of service.QueueLine have it.
type waiting struct {
	entry
	recheck bool
	since   time.Time
	judged  map[string]bool
}

// place is what a place of the queue tells.
type place struct {
	id, region       string
	gain             float64
	longest, recheck bool
}

// queueByDefinition compares pages with the words of service.QueueLine, worked out here by sorting everything.
func queueByDefinition(f fixture) {
	dice := rand.New(rand.NewPCG(8, 2))
	all := f.madeUpQueue(dice, 160)
	filters := []service.QueueFilter{
		{},
		{Viewer: "me", Rechecks: true},
		{Viewer: "bob", Rechecks: true, Weights: map[string]float64{"antenna": 0.137, "head": 1.291, "legs": 0, "wings": 0.75, "nowhere": 2}},
		{Viewer: "ann", Rechecks: true, Weights: map[string]float64{"antenna": 0.3333333333333333, "body": 0.1, "head": 0.7, "legs": 1.1, "wings": 1e-7}},
		{Viewer: "me", Rechecks: true, Group: "adults", Weights: map[string]float64{"head": 0.5}},
		{Viewer: "me", Rechecks: true, Family: "Elateridae", Weights: map[string]float64{"head": 1.5}},
		{Viewer: "me", Rechecks: true, Trip: "Alps", Group: "larvae"},
		{Viewer: "bob", Rechecks: true, Trip: "Alps", Drawer: "7", Weights: map[string]float64{"antenna": 0, "body": 0, "head": 0, "legs": 0, "wings": 0}},
		{Viewer: "me", Drawer: "7", Family: "Buprestidae"},
		{Viewer: "me", Group: "none"},
		{Viewer: "me", Families: "Buprestidae Elateridae", Weights: map[string]float64{"head": 0.5}},
		{Viewer: "me", Families: "Elateridae", Family: "Elateridae"},
		{Viewer: "me", Families: "Elateridae", Family: "Buprestidae"},
		{Viewer: "me", Families: "A B C D E F G H I J Buprestidae Elateridae Zopheridae", Trip: "Alps"},
	}
	for i, filter := range filters {
		filter.AsOf = noon.Add(100 * day)
		want := inOrder(all, filter)
		for _, size := range []int{1, 7, 50, 200} {
			got := []place{}
			page := service.Page{Size: size}
			for more := true; more; more = page.Cursor != "" {
				lines, next, err := f.db.FindQueue(f.Context(), filter, page)
				require.NoError(f, err)
				require.True(f, len(lines) == size || next == "", "only the last page is short")
				require.LessOrEqual(f, len(next), 500)
				for _, l := range lines {
					got = append(got, place{l.ID, l.Region, l.Gain, l.LongestWaiting, l.Recheck})
				}
				page.Cursor = next
			}
			require.Equal(f, want, got, "filter %d, pages of %d", i, size)
		}
	}
}

// madeUpQueue stores open submissions and rechecks, many with the same gains and days.
func (f fixture) madeUpQueue(dice *rand.Rand, n int) []waiting {
	regions := []string{"antenna", "body", "head", "legs", "wings"}
	one := func(of ...string) string { return of[dice.IntN(len(of))] }
	var all []waiting
	for i := range n {
		w := waiting{entry: entry{id: fmt.Sprintf("s%03d", i), owner: one("o", "o", "ann", "bob"), family: one("Elateridae", "Buprestidae"), group: one("adults", "larvae"),
			trip: one("", "Alps", "Harz"), drawer: one("", "7"), at: noon.Add(day * time.Duration(dice.IntN(20)))}, judged: map[string]bool{}}
		w.determiner, w.since, w.recheck = one("o", "ann"), w.at, dice.IntN(8) == 0
		for _, r := range dice.Perm(len(regions))[:dice.IntN(6)] {
			gain := one("0", "0.5", "1", "any")
			w.gains = append(w.gains, review.RegionGain{Region: regions[r], Gain: map[string]float64{"0": 0, "0.5": 0.5, "1": 1, "any": dice.Float64()}[gain]})
		}
		slices.SortStableFunc(w.gains, func(a, b review.RegionGain) int { return cmp.Compare(b.Gain, a.Gain) })
		if len(w.gains) > 0 {
			w.gain = w.gains[0].Gain
		}
		f.add(w.entry)
		if who := one("", "", "bob", "me"); who != "" {
			f.next(w.id, who, w.at, &review.OpinionGiven{Opinion: review.Opinion{By: who}})
			w.judged[who] = true
		}
		if w.recheck {
			w.since = w.at.Add(day)
			f.next(w.id, "rex", w.since, &review.Undetermined{}, &review.RecheckDrawn{Rate: 0.5, Panel: 3})
		}
		all = append(all, w)
	}
	return all
}

// inOrder is the whole queue of a filter.
func inOrder(all []waiting, f service.QueueFilter) []place {
	var byWaiting []waiting
	for _, w := range all {
		if w.shownTo(f) {
			byWaiting = append(byWaiting, w)
		}
	}
	byGain := slices.DeleteFunc(slices.Clone(byWaiting), func(w waiting) bool { return w.place(f).gain == 0 })
	slices.SortFunc(byWaiting, func(a, b waiting) int { return cmp.Or(a.since.Compare(b.since), cmp.Compare(a.id, b.id)) })
	slices.SortFunc(byGain, func(a, b waiting) int {
		return cmp.Or(cmp.Compare(b.place(f).gain, a.place(f).gain), cmp.Compare(a.id, b.id))
	})
	order, given := []place{}, map[string]bool{}
	first := func(list []waiting) *waiting {
		for i := range list {
			if !given[list[i].id] {
				return &list[i]
			}
		}
		return nil
	}
	for len(order) < len(byWaiting) {
		next, longest := first(byGain), false
		if next == nil || len(order)%5 == 4 {
			next, longest = first(byWaiting), true
		}
		p := next.place(f)
		p.longest = longest
		order, given[p.id] = append(order, p), true
	}
	return order
}

func (w *waiting) shownTo(f service.QueueFilter) bool {
	narrowed := f.Families.Cover(w.family) && (f.Group == "" || f.Group == w.group) && (f.Family == "" || f.Family == w.family) && (f.Trip == "" || f.Trip == w.trip) && (f.Drawer == "" || f.Drawer == w.drawer)
	mine := f.Viewer != "" && (f.Viewer == w.owner || f.Viewer == w.determiner || w.judged[f.Viewer])
	return narrowed && !mine && (!w.recheck || f.Rechecks && f.Family == "" && f.Viewer != "rex")
}

func (w *waiting) place(f service.QueueFilter) place {
	p := place{id: w.id, recheck: w.recheck}
	if w.recheck {
		return p
	}
	for _, g := range w.gains {
		weight, named := f.Weights[g.Region]
		if !named {
			weight = 1
		}
		if gain := math.Round(g.Gain*1e6) / 1e6 * weight; gain > p.gain {
			p.gain, p.region = gain, g.Region
		}
	}
	return p
}

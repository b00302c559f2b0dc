package service

import (
	"context"
	"fmt"
	"maps"
	"slices"
	"strings"
	"sync"

	"revidit/review"
	"revidit/review/diagnosis"
	"revidit/review/judgement"
	"revidit/review/key"
	"revidit/review/key/builder"
	"revidit/review/key/trial"
)

// KeyChoice is what a printed key is asked to be.
type KeyChoice struct {
	Group string
	// Region is a fauna of the tables, judgement.MixList or judgement.MixWorld; empty: what the club's policy mixes most of, else the
	// first fauna.
	Region string
	// Families, where there are any, take the place of those of the region; it still says how common they are.
	Families []string
	// Submissions, where there are any, take the place of Families: those that the evidence on any of them leaves possible.
	Submissions []string
	Expert      bool // made for people who read as reviewers do
	Preparing   bool // with characters for which a specimen has to be prepared
}

// MadeKey is a printed key with what a trial of it found.
type MadeKey struct {
	*key.Key
	Region           string
	Choice           KeyChoice
	Beginner, Expert trial.Figures
	// Greedy is a key beside it that asks for one character a couplet, whichever tells most at once: what a beginner makes of it.
	Greedy trial.Figures
}

// KeySpecimens are the made-up specimens that each person takes through a key before it is printed.
const KeySpecimens = 4000

// leastPossible is the probability of a family from which on it counts as possible.
const leastPossible = 0.01

// MostKeySubmissions is how many submissions a key is made for at most.
const MostKeySubmissions = review.MostOfTray

// Key makes the key of a choice from the tables in force. It is made once for each release and choice while this process runs.
func (s *Service) Key(ctx context.Context, actor review.Actor, choice KeyChoice) (*MadeKey, error) {
	judge, err := s.Judge(ctx, choice.Group)
	if err != nil {
		return nil, err
	}
	policy, err := s.Policy(ctx)
	if err != nil {
		return nil, err
	}
	t := judge.Tables()
	choice.Group = t.Group.ID
	if choice.Region == "" {
		choice.Region = usualRegion(t, policy)
	}
	if len(choice.Submissions) > 0 {
		if choice.Families, err = s.possible(ctx, actor, choice.Group, choice.Submissions); err != nil {
			return nil, err
		}
	}
	return s.keys.made(ctx, t, choice, policy.List)
}

// usualRegion is the fauna that the policy mixes most of, else the club's list, else the first fauna, else the world.
func usualRegion(t *diagnosis.Tables, p review.Policy) string {
	best := ""
	for i := range t.Faunas {
		if id := t.Faunas[i].ID; p.Mix[id] > p.Mix[best] {
			best = id
		}
	}
	switch {
	case best != "":
		return best
	case judgement.Listed(p.List, t) != nil:
		return judgement.MixList
	case len(t.Faunas) > 0:
		return t.Faunas[0].ID
	}
	return judgement.MixWorld
}

// possible are the families that the evidence on submissions leaves possible for the actor.
func (s *Service) possible(ctx context.Context, actor review.Actor, group string, ids []string) ([]string, error) {
	if len(ids) > MostKeySubmissions {
		return nil, review.Invalidf("submission", "are %d; at most %d at once", len(ids), MostKeySubmissions)
	}
	found := map[string]bool{}
	for _, id := range ids {
		v, err := s.View(ctx, actor, id)
		if err != nil {
			return nil, err
		}
		if v.Submission.Group != group {
			return nil, review.Invalidf("submission", "%s is of other tables than this key", id)
		}
		for _, r := range v.Assessment.Ranking {
			if r.P >= leastPossible && r.Family != judgement.NoneOfThese {
				found[r.Family] = true
			}
		}
	}
	return slices.Sorted(maps.Keys(found)), nil
}

// MakeKey makes a key of tables and tries it; list is the club's own, or nil. Equal arguments give equal keys.
func MakeKey(t *diagnosis.Tables, choice KeyChoice, list map[string]float64) (*MadeKey, error) {
	names, common, err := regionOf(t, choice.Region, list)
	if err != nil {
		return nil, err
	}
	if len(choice.Families) > 0 {
		if names, err = acceptedNames(t, choice.Families); err != nil {
			return nil, err
		}
	}
	if len(names) < 2 {
		return nil, review.Invalidf("family", "a key needs at least two families")
	}
	asked := builder.Choice{Families: names, Prior: common, Preparing: choice.Preparing, Reader: builder.Reader{Expert: choice.Expert, Ordinary: review.MemberAccuracy}}
	if choice.Expert {
		asked.Reader.Ordinary = review.ReviewerAccuracy
	}
	made := &MadeKey{Region: choice.Region, Choice: choice}
	if made.Key, err = builder.Build(t, asked); err != nil {
		return nil, err
	}
	plain, err := builder.Build(t, builder.Choice{Families: names, Prior: common, Reader: builder.Reader{Faultless: true}, Greedy: true, Preparing: choice.Preparing})
	if err != nil {
		return nil, err
	}
	for _, run := range []struct {
		key    *key.Key
		person trial.Person
		into   *trial.Figures
	}{{made.Key, Beginner, &made.Beginner}, {made.Key, Expert, &made.Expert}, {plain, Beginner, &made.Greedy}} {
		course := trial.Course{Key: run.key, Tables: t, Prior: common, Specimens: KeySpecimens, Seed: 1}
		if *run.into, err = course.Run(run.person); err != nil {
			return nil, err
		}
	}
	return made, nil
}

// Beginner and Expert are who tries keys: a member and a reviewer of whom nothing else is known.
var (
	Beginner = trial.Person{Accuracy: review.MemberAccuracy}
	Expert   = trial.Person{Expert: true, Accuracy: review.ReviewerAccuracy}
)

// regionOf are the families of a region, and how common they are: by species there, each as likely to be found as any other; by the
// weights of the club's list; for the world by described species.
func regionOf(t *diagnosis.Tables, region string, list map[string]float64) ([]string, map[string]float64, error) {
	common := map[string]float64{}
	switch region {
	case judgement.MixWorld:
		for i := range t.Families {
			common[t.Families[i].Name] = float64(max(t.Families[i].Species, 1))
		}
	case judgement.MixList:
		for name, weight := range judgement.Listed(list, t) {
			if f, _, ok := t.Resolve(name); ok {
				common[f.Name] += weight
			}
		}
		if len(common) == 0 {
			return nil, nil, review.Invalidf("region", "the club’s own list names no family of these tables")
		}
	default:
		fauna, ok := t.Fauna(region)
		if !ok {
			return nil, nil, review.Invalidf("region", "%s is no region of these tables; allowed are %s", region, strings.Join(KeyRegions(t), ", "))
		}
		for _, line := range fauna.Families {
			common[line.Family] = float64(line.Species)
		}
	}
	return slices.Sorted(maps.Keys(common)), common, nil
}

// KeyRegions are the regions of which a key can be made.
func KeyRegions(t *diagnosis.Tables) []string {
	var ids []string
	for i := range t.Faunas {
		ids = append(ids, t.Faunas[i].ID)
	}
	return append(ids, judgement.MixList, judgement.MixWorld)
}

// acceptedNames are the accepted names of families that are named by any name, each once.
func acceptedNames(t *diagnosis.Tables, names []string) ([]string, error) {
	found := map[string]bool{}
	for _, name := range names {
		f, _, ok := t.Resolve(name)
		if !ok {
			return nil, review.Invalidf("family", "%s", t.NotAName(name))
		}
		found[f.Name] = true
	}
	return slices.Sorted(maps.Keys(found)), nil
}

// mostKeys is how many keys a process keeps.
const mostKeys = 24

// keys are those that this process has made, by release and choice.
type keys struct {
	making sync.Mutex // one is made at a time: it takes a processor for seconds. Those that are made already wait for none
	mu     sync.Mutex // of what follows
	all    map[string]*MadeKey
	order  []string // the latest asked for last
}

func (k *keys) made(ctx context.Context, t *diagnosis.Tables, choice KeyChoice, list map[string]float64) (*MadeKey, error) {
	choice.Submissions = nil // whose they are is nobody else's business who asks for the same families
	name := fmt.Sprint(t.Hash, choice.Region, choice.Families, choice.Expert, choice.Preparing)
	if choice.Region == judgement.MixList {
		name += fmt.Sprint(list)
	}
	if known := k.known(name); known != nil {
		return known, nil
	}
	k.making.Lock()
	defer k.making.Unlock()
	if known := k.known(name); known != nil {
		return known, nil
	}
	if err := ctx.Err(); err != nil { // who has gone while another one was made
		return nil, err
	}
	made, err := MakeKey(t, choice, list)
	if err != nil {
		return nil, err
	}
	k.keep(name, made)
	return made, nil
}

func (k *keys) known(name string) *MadeKey {
	k.mu.Lock()
	defer k.mu.Unlock()
	known := k.all[name]
	if known != nil {
		k.order = append(slices.DeleteFunc(k.order, func(other string) bool { return other == name }), name)
	}
	return known
}

func (k *keys) keep(name string, made *MadeKey) {
	k.mu.Lock()
	defer k.mu.Unlock()
	if k.all == nil {
		k.all = map[string]*MadeKey{}
	}
	if k.all[name], k.order = made, append(k.order, name); len(k.order) > mostKeys {
		delete(k.all, k.order[0])
		k.order = k.order[1:]
	}
}

package main

import (
	"errors"
	"fmt"
	"maps"
	"runtime"
	"slices"
	"time"

	"revidit/review"
	"revidit/review/diagnosis"
	"revidit/review/judgement"
	"revidit/review/key"
	"revidit/review/key/builder"
	"revidit/review/key/trial"
	"revidit/review/service"
)

type benchKey struct {
	Region    string `help:"Fauna whose families the key leads to; world for all of the tables." default:"central-europe" placeholder:"ID"`
	Specimens int    `help:"Made-up specimens that each person takes through each key." default:"20000" placeholder:"N"`
	Preparing bool   `help:"With characters for which a specimen has to be prepared."`
}

// Validate checks the numbers.
func (c *benchKey) Validate() error {
	if c.Specimens < 1 {
		return errors.New("--specimens must be above 0; nothing was measured")
	}
	return nil
}

// Run makes the key of a region for a beginner and one for an expert, and a greedy one beside them; each takes specimens through theirs.
func (c *benchKey) Run(on console) error {
	tables := diagnosis.Default()
	common, err := c.common(tables)
	if err != nil {
		return err
	}
	names := slices.Sorted(maps.Keys(common))
	choice := func(r builder.Reader, greedy bool) builder.Choice {
		return builder.Choice{Families: names, Prior: common, Reader: r, Greedy: greedy, Preparing: c.Preparing}
	}
	fmt.Fprintf(on.out, "%s, %s/%s, %d cores. Release %s (%s), %s: %d families, each species as likely as any other.\n", runtime.Version(), runtime.GOOS, runtime.GOARCH, runtime.NumCPU(),
		tables.Group.Release, tables.Hash[:shownHash], c.Region, len(names))
	var found [3][2]trial.Figures // by key and person
	people := [2]trial.Person{service.Beginner, service.Expert}
	for i, made := range []struct {
		name   string
		choice builder.Choice
	}{
		{"for beginners", choice(builder.Reader{Ordinary: review.MemberAccuracy}, false)},
		{"for experts", choice(builder.Reader{Expert: true, Ordinary: review.ReviewerAccuracy}, false)},
		{"greedy", choice(builder.Reader{Faultless: true}, true)},
	} {
		began := time.Now()
		k, err := builder.Build(tables, made.choice)
		if err != nil {
			return err
		}
		fmt.Fprintf(on.out, "  %-14s %d couplets, made in %.2f s\n", made.name+":", len(k.Couplets), time.Since(began).Seconds())
		for j, person := range people {
			course := trial.Course{Key: k, Tables: tables, Prior: common, Specimens: c.Specimens, Seed: 1}
			if found[i][j], err = course.Run(person); err != nil {
				return err
			}
			f := found[i][j]
			fmt.Fprintf(on.out, "    %-9s right %.4f ± %.4f, %.2f couplets, %.1f characters looked at, %.2f endings\n", []string{"beginner:", "expert:"}[j], f.Right, f.Error, f.Steps, f.Looks, f.Tried)
		}
	}
	weighed, err := c.weighed(on, trial.Course{Key: &key.Key{Families: names}, Tables: tables, Prior: common, Specimens: c.Specimens, Seed: 1})
	if err != nil {
		return err
	}
	c.tellCeiling(on, [2]float64{found[0][0].Right, found[1][1].Right}, weighed)
	fmt.Fprintf(on.out, "\nfamilies=%d mean_steps=%.2f right_beginner=%.3f right_expert=%.3f greedy_right_beginner=%.3f greedy_right_expert=%.3f weighed_beginner=%.3f weighed_expert=%.3f\n", len(names),
		found[0][0].Steps, found[0][0].Right, found[1][1].Right, found[2][0].Right, found[2][1].Right, weighed[0], weighed[1])
	return nil
}

// wantedRight is the share of right endings that was asked of a key, of a beginner and of an expert.
var wantedRight = [2]float64{0.8, 0.95}

// tellCeiling says how far the keys are from what can be reached at all, and where more is asked than that.
func (c *benchKey) tellCeiling(on console, keys, weighed [2]float64) {
	for i, name := range []string{"a beginner", "an expert"} {
		beyond := ""
		if wantedRight[i] > weighed[i] {
			beyond = ", which no key can give to people who read so"
		}
		fmt.Fprintf(on.out, "  The ceiling for %s is %.3f, and the key reaches %.0f %% of it. Asked for are %.2f%s.\n", name, weighed[i], 100*keys[i]/weighed[i], wantedRight[i], beyond)
	}
}

// weighed is what a beginner and an expert would reach who look at everything and weigh it, without any key: what a key is to be held
// against.
func (c *benchKey) weighed(on console, course trial.Course) (right [2]float64, err error) {
	fmt.Fprintf(on.out, "  without a key, every character that can be seen looked at and weighed:\n")
	for i, person := range []trial.Person{service.Beginner, service.Expert} {
		var standardError float64
		if right[i], standardError, err = course.Weighed(person); err != nil {
			return right, err
		}
		fmt.Fprintf(on.out, "    %-9s right %.4f ± %.4f\n", []string{"beginner:", "expert:"}[i], right[i], standardError)
	}
	return right, nil
}

// common are the families of the region with their species.
func (c *benchKey) common(t *diagnosis.Tables) (map[string]float64, error) {
	common := map[string]float64{}
	if c.Region == judgement.MixWorld {
		for i := range t.Families {
			common[t.Families[i].Name] = float64(t.Families[i].Species)
		}
		return common, nil
	}
	fauna, ok := t.Fauna(c.Region)
	if !ok {
		return nil, fmt.Errorf("there is no region %q in these tables; nothing was measured", c.Region)
	}
	for _, line := range fauna.Families {
		common[line.Family] = float64(line.Species)
	}
	return common, nil
}

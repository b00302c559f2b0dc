package main

import (
	"errors"
	"fmt"
	"runtime"
	"time"

	"revidit/review"
	"revidit/review/diagnosis"
	"revidit/review/judgement"
	"revidit/review/key"
	"revidit/review/key/builder"
	"revidit/review/key/trial"
)

type benchKey struct {
	Region    string `help:"Fauna whose families the key leads to; world for all of the tables." default:"central-europe" placeholder:"ID"`
	Specimens int    `help:"Made-up specimens that each person takes through each key." default:"20000" placeholder:"N"`
	Expert    bool   `help:"A key made for experts, in place of one for beginners."`
}

// Validate checks the numbers.
func (c *benchKey) Validate() error {
	if c.Specimens < 1 {
		return errors.New("--specimens must be above 0; nothing was measured")
	}
	return nil
}

// Run makes the key of a region and a greedy one beside it, and has a beginner and an expert try both.
func (c *benchKey) Run(on console) error {
	tables := diagnosis.Default()
	families, prior, err := regionOf(tables, c.Region)
	if err != nil {
		return err
	}
	began := time.Now()
	made, err := builder.Build(tables, builder.Choice{Families: families, Prior: prior, Reader: readerOf(c.Expert)})
	if err != nil {
		return err
	}
	took := time.Since(began)
	plain, err := builder.Build(tables, builder.Choice{Families: families, Prior: prior, Reader: builder.Reader{Faultless: true}, Greedy: true})
	if err != nil {
		return err
	}
	fmt.Fprintf(on.out, "%s, %s/%s, %d cores. Release %s (%s), %s.\n", runtime.Version(), runtime.GOOS, runtime.GOARCH, runtime.NumCPU(), tables.Group.Release, tables.Hash[:shownHash], c.Region)
	fmt.Fprintf(on.out, "The key has %d couplets, the greedy one %d; made in %.2f s.\n", len(made.Couplets), len(plain.Couplets), took.Seconds())
	var found [2][2]trial.Figures
	for i, k := range []*key.Key{made, plain} {
		for j, person := range []trial.Person{{Accuracy: review.MemberAccuracy}, {Expert: true, Accuracy: review.ReviewerAccuracy}} {
			course := trial.Course{Key: k, Tables: tables, Prior: prior, Specimens: c.Specimens, Seed: 1}
			if found[i][j], err = course.Run(person); err != nil {
				return err
			}
			f := found[i][j]
			fmt.Fprintf(on.out, "  %-7s %-9s right %.4f ± %.4f, %.2f couplets, %.1f looks, %.2f guessed\n", []string{"key", "greedy"}[i], []string{"beginner:", "expert:"}[j],
				f.Right, f.Error, f.Steps, f.Looks, f.Guessed)
		}
	}
	fmt.Fprintf(on.out, "\nfamilies=%d couplets=%d mean_steps=%.2f right_beginner=%.3f right_expert=%.3f greedy_right_beginner=%.3f greedy_right_expert=%.3f\n", len(made.Families), len(made.Couplets),
		found[0][0].Steps, found[0][0].Right, found[0][1].Right, found[1][0].Right, found[1][1].Right)
	return nil
}

func readerOf(expert bool) builder.Reader {
	if expert {
		return builder.Reader{Expert: true, Ordinary: review.ReviewerAccuracy}
	}
	return builder.Reader{Ordinary: review.MemberAccuracy}
}

// regionOf are the families of a fauna and their weights.
func regionOf(t *diagnosis.Tables, region string) ([]string, map[string]float64, error) {
	var names []string
	if region == judgement.MixWorld {
		for i := range t.Families {
			names = append(names, t.Families[i].Name)
		}
		return names, nil, nil
	}
	fauna, ok := t.Fauna(region)
	if !ok {
		return nil, nil, fmt.Errorf("there is no fauna %q in these tables; nothing was measured", region)
	}
	for _, line := range fauna.Families {
		names = append(names, line.Family)
	}
	return names, judgement.Prior(map[string]float64{region: 1}, nil, t), nil
}

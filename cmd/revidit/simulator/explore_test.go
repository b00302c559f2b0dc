package simulator

import (
	"context"
	"fmt"
	"math"
	"os"
	"strconv"
	"testing"
	"time"

	"revidit/cmd/revidit/simulator/nature"
	"revidit/review"
	"revidit/review/confidence"
	"revidit/review/diagnosis"
)

func TestExplore(t *testing.T) {
	n, _ := strconv.Atoi(os.Getenv("N"))
	tables := diagnosis.Default()
	judge := review.NewJudge(tables)
	w := nature.New(tables, nature.Options{Seed: 1, Specimens: n, WrongCells: 0.01})
	t0 := time.Now()
	asked, err := interview(context.Background(), w, judge)
	m := 0
	for _, a := range asked {
		m += len(a)
	}
	fmt.Println("interview", time.Since(t0), float64(m)/float64(n))
	c, err := newClub(w, judge, asked)
	if err != nil {
		t.Fatal(err)
	}
	start := 0
	// oracle: names from true states
	for i := range c.rightAt {
		if c.rightAt[i] == 0 {
			start++
		}
	}
	prop := 0
	for i := range w.Specimens {
		if w.Specimens[i].Proposed == w.Specimens[i].True {
			prop++
		}
	}
	fmt.Println("open", time.Since(t0), "start", float64(start)/float64(n), "proposed right", float64(prop)/float64(n))
	t0 = time.Now()
	if err := c.run(context.Background(), newQueue(c)); err != nil {
		t.Fatal(err)
	}
	fmt.Println("ours", time.Since(t0), c.spent)
	t0 = time.Now()
	out := c.outcomes()
	fmt.Println("outcomes", time.Since(t0))
	var a, f, v forecasts
	var looks []int
	confirmed := 0
	opinions := 0
	for i, s := range out {
		a.add(s.P, s.Top == s.True)
		f.add(s.FixedP, s.FixedTop == s.True)
		v.add(s.MajorityShare, s.Majority == s.True)
		looks = append(looks, s.LooksOurs)
		if c.cases[i].Submission().Status == review.StatusConfirmed {
			confirmed++
		}
		opinions += len(c.cases[i].Submission().Opinions)
	}
	for _, x := range []*forecasts{&a, &f, &v} {
		b, l, _ := x.scores()
		e, _ := confidence.ExpectedCalibrationError(x.p, x.right, 1)
		fmt.Printf("right %.4f brier %.4f log %.4f ece %.4f chance %.4f\n", x.share(), b, l, e.Value, e.Chance)
		if x != &v {
			for _, bin := range e.Bins {
				fmt.Printf("   %.3f %.3f (%.0f)", bin.Forecast, bin.Observed, bin.Cases)
			}
			fmt.Println()
		}
	}
	for _, acc := range []float64{0.9, 0.97} {
		for _, shown := range []bool{true, false} {
			ok := 0
			for i := range w.Specimens {
				e := review.Evidence{Prior: w.List}
				for _, ch := range asked[i] {
					e.Stated = append(e.Stated, review.Stated{Character: tables.Characters[ch].ID, State: w.Oracle(i, ch, shown), Reports: []review.Report{{Kind: review.ReportStated, Accuracy: acc}}})
				}
				if judge.Assess(e).Ranking[0].Family == w.Specimens[i].True {
					ok++
				}
			}
			fmt.Println("right oracle", acc, shown, float64(ok)/float64(n))
		}
	}
	unl, unlr, str, strr := 0, 0, 0, 0
	for i, s := range out {
		if s.True == nature.NoListedFamily {
			unl++
			if s.Top == s.True {
				unlr++
			}
		} else if w.List[s.True] == 0 {
			str++
			if s.Top == s.True {
				strr++
			}
		}
		_ = i
	}
	fmt.Println("right unlisted", unlr, unl, "strays", strr, str)
	fmt.Println("confirmed", confirmed, "opinions", opinions)
	err1, n1, err2, n2, bias := 0.0, 0, 0.0, 0, 0.0
	for at, x := range c.tally {
		if x.atEnough >= 0 {
			err1 += x.atEnough
			n1++
			e := c.people.People[at.person].Regions[at.region].Value() - x.accuracy/x.reports
			err2 += math.Abs(e)
			bias += e
			n2++
		}
	}
	fmt.Println("reliability", err1/float64(n1), n1, len(c.tally), "end", err2/float64(n2), "bias", bias/float64(n2))
	for i := range w.People {
		if w.People[i].Reviewer {
			k := c.people.People[w.People[i].ID].Anchoring
			fmt.Printf(" %.2f/%.2f(%d)", w.People[i].Anchoring, k.Value(), k.Blind)
		}
	}
	fmt.Println()
	if os.Getenv("ONLY") != "" {
		for _, s := range []float64{0.86, 0.9, 0.92, 0.94, 0.95, 0.96} {
			fmt.Print(s, ":", looksUntil(s, looks), " ")
		}
		fmt.Println()
		return
	}
	t0 = time.Now()
	c2, _ := newClub(w, judge, asked)
	if err := c2.run(context.Background(), &arrival{club: c2}); err != nil {
		t.Fatal(err)
	}
	out2 := c2.outcomes()
	var looks2 []int
	for _, s := range out2 {
		looks2 = append(looks2, s.LooksOurs)
	}
	fmt.Println("arrival", time.Since(t0), c2.spent)
	for _, s := range []float64{0.86, 0.88, 0.9, 0.92, 0.93, 0.94, 0.95, 0.96, 0.97} {
		fmt.Println(s, looksUntil(s, looks), looksUntil(s, looks2))
	}
}

package pages

import (
	"context"
	"slices"
	"strconv"
	"strings"

	"github.com/a-h/templ"

	"revidit/review"
	"revidit/review/service"
	"revidit/web/words"
)

func asOfURL(submission string, position int64) templ.SafeURL {
	return submissionURL(submission, "/as-of?position="+strconv.FormatInt(position, 10))
}

// remadeWords say how the number of a moment came about.
func remadeWords(ctx context.Context, r review.Remade) string {
	if r.Again {
		return words.T(ctx, "past.again", "At", Minute(ctx, r.At))
	}
	return words.T(ctx, "past.stored", "At", Minute(ctx, r.At), "Why", coded(ctx, "past.why-", string(r.Why)))
}

// changedGroup is what changed of one kind.
type changedGroup struct {
	Title   string
	Details []Detail
}

// changedGroups are what is another thing at the later of two moments, in words.
func changedGroups(ctx context.Context, book Book, d service.Difference) []changedGroup {
	t := teller{ctx: ctx, book: book, names: map[string]string{}, observed: map[string]review.Observation{}}
	for _, v := range []*service.SubmissionView{&d.From.View, &d.To.View} {
		for id, name := range v.Names {
			t.names[id] = name
		}
		for _, o := range v.Specimen.Observations {
			t.observed[o.ID] = o
		}
	}
	c := d.Changed
	groups := []changedGroup{
		{words.T(ctx, "past.name-and-status"), append(t.statusChanged(c), t.nameChanged(c)...)},
		{words.T(ctx, "past.confidence"), t.numberChanged(c)},
		{words.T(ctx, "past.contradictions"), t.contradictionsChanged(c)},
		{words.T(ctx, "past.characters"), t.observationsChanged(c)},
		{words.T(ctx, "past.verdicts"), t.verdictsChanged(c)},
		{words.T(ctx, "past.opinions"), t.opinionsChanged(c)},
	}
	if c.Label != nil {
		groups = append(groups, changedGroup{words.T(ctx, "past.label"), t.labelChanges(c.Label.Before, c.Label.After)})
	}
	return slices.DeleteFunc(groups, func(g changedGroup) bool { return len(g.Details) == 0 })
}

func (t *teller) statusChanged(c review.Changed) []Detail {
	if c.Status == nil {
		return nil
	}
	return []Detail{{Term: words.T(t.ctx, "past.status"), Before: Status(t.ctx, c.Status.Before), After: Status(t.ctx, c.Status.After)}}
}

func (t *teller) nameChanged(c review.Changed) []Detail {
	if c.Determination == nil {
		return nil
	}
	return t.proposalChanges(review.Proposal{Determination: c.Determination.Before}, review.Proposal{Determination: c.Determination.After})
}

func (t *teller) numberChanged(c review.Changed) []Detail {
	if c.Assessment == nil {
		return nil
	}
	was, is := c.Assessment.Before, c.Assessment.After
	d := changed(nil, words.T(t.ctx, "history.confidence"), t.number(was), t.number(is))
	d = changed(d, words.T(t.ctx, "history.leading"), was.Leads, is.Leads)
	d = changed(d, words.T(t.ctx, "history.tables"), was.Release, is.Release)
	d = changed(d, words.T(t.ctx, "past.cause-reliability"), itoa(was.Reliability), itoa(is.Reliability))
	d = changed(d, words.T(t.ctx, "past.cause-policy"), itoa(was.Policy), itoa(is.Policy))
	return changed(d, words.T(t.ctx, "past.cause-method"), was.Method, is.Method)
}

func (t *teller) number(n review.Number) string {
	if n.Confidence == 0 { // not told, or not there yet
		return ""
	}
	return words.T(t.ctx, "history.for", "P", Probability(t.ctx, n.Confidence), "Family", hypothesis(t.ctx, n.Family))
}

func (t *teller) contradictionsChanged(c review.Changed) (details []Detail) {
	for _, x := range c.Appeared {
		details = append(details, Detail{Term: contradictionShort(t.ctx, x.Kind), After: t.about(x.Character, x.State, x.Family)})
	}
	for _, x := range c.Resolved {
		details = append(details, Detail{Term: contradictionShort(t.ctx, x.Kind), Before: t.about(x.Character, x.State, x.Family)})
	}
	return details
}

// about is the state that a contradiction is about, or the family where it is about none.
func (t *teller) about(character, state, family string) string {
	if character == "" {
		return family
	}
	return t.book.Character(character) + ": " + t.book.State(character, state)
}

func (t *teller) observationsChanged(c review.Changed) []Detail {
	details := t.observations(c.Stated)
	for _, o := range c.TakenBack {
		details = append(details, t.observation(o.ID)...)
	}
	return details
}

func (t *teller) verdictsChanged(c review.Changed) (details []Detail) {
	for _, pair := range c.Verdicts {
		d := Detail{Term: t.book.Character(t.observed[pair.After.Observation].Character), After: t.verdictOf(pair.After)}
		if pair.Before.Kind != "" {
			d.Before = t.verdictOf(pair.Before)
		}
		details = append(details, d)
	}
	return details
}

func (t *teller) verdictOf(v review.Verdict) string {
	said := t.verdicts([]review.Verdict{v})[0].After
	return name(t.ctx, t.names, v.By) + ": " + said
}

func (t *teller) opinionsChanged(c review.Changed) (details []Detail) {
	for _, pair := range c.Opinions {
		d := Detail{Term: name(t.ctx, t.names, pair.After.By), After: opinionWords(t.ctx, pair.After)}
		if pair.Before.By != "" {
			d.Before = opinionWords(t.ctx, pair.Before)
		}
		details = append(details, d)
	}
	return details
}

// causesWords say what had moved a number.
func causesWords(ctx context.Context, names map[string]string, causes []review.Mover) string {
	var told []string
	for _, c := range causes {
		if c.Actor == "" {
			told = append(told, coded(ctx, "past.cause-", c.Kind))
			continue
		}
		told = append(told, words.N(ctx, "past.by-"+c.Kind, c.Count, "Name", name(ctx, names, c.Actor)))
	}
	return strings.Join(told, "; ")
}

// pathLine is how sure one name was over time, as a line of steps: a number holds until the next.
type pathLine struct {
	Submission string
	Family     string
	Steps      []pathStep
}

// pathStep is one number with where it stands in the drawing, in per cent.
type pathStep struct {
	review.PathPoint
	No    int
	X, To float64 // from when until when it held
	Y     float64
}

// pathLines puts the numbers of a specimen into a drawing, with places by time.
func pathLines(path []review.PathPoint) []pathLine {
	if len(path) == 0 {
		return nil
	}
	begin, end := firstStep(path).At, lastStep(path).At
	span := max(end.Sub(begin).Seconds(), 1)
	var lines []pathLine
	for i, p := range path {
		if len(lines) == 0 || lines[len(lines)-1].Submission != p.Submission {
			lines = append(lines, pathLine{Submission: p.Submission, Family: p.Family})
		}
		line := &lines[len(lines)-1]
		x := 100 * p.At.Sub(begin).Seconds() / span
		if n := len(line.Steps); n > 0 {
			line.Steps[n-1].To = x
		}
		line.Steps = append(line.Steps, pathStep{PathPoint: p, No: i + 1, X: x, To: x, Y: 100 - 100*p.Confidence})
	}
	return lines
}

// pileLines are the slips on the pin, the uppermost first.
func pileLines(v service.SpecimenView) []service.DeterminationLine {
	var pile []service.DeterminationLine
	for _, id := range v.Pile {
		for _, l := range v.Determinations {
			if l.Submission == id {
				pile = append(pile, l)
			}
		}
	}
	return pile
}

func firstStep(path []review.PathPoint) review.PathPoint {
	return slices.MinFunc(path, byTime)
}

func lastStep(path []review.PathPoint) review.PathPoint {
	return slices.MaxFunc(path, byTime)
}

func byTime(a, b review.PathPoint) int { return a.At.Compare(b.At) }

package review

import (
	"maps"
	"math"
	"reflect"
	"slices"
	"strings"

	"revidit/review/diagnosis"
	"revidit/review/judgement"
)

// Reweigher weighs settled determinations by two Scales and says where they part and why. It is safe for concurrent use.
type Reweigher struct {
	from, to      Scales
	before, after *judgement.Weigher
	both          *judgement.Two // nil where they differ in more than cells
	// How often things are mentioned, by both.
	mentionsBefore, mentionsAfter map[string]judgement.Mention
	tables, list, people          bool            // what differs
	sameEvidence                  bool            // what people said means the same by both
	cells                         map[string]bool // cells that differ, by "family|character"
	known                         map[string]bool // persons of whom something else is known
	// Where everything else is the same a determination can only be touched that states one of these characters, or on which one of
	// those known has reported. Nil: any can.
	characters map[string]bool
}

// NewReweigher compares two Scales of the same group.
func NewReweigher(from, to Scales) *Reweigher {
	a, b := from.Judge.Tables(), to.Judge.Tables()
	r := &Reweigher{from: from, to: to, before: from.weigher(), after: to.weigher(), tables: a.Hash != b.Hash, people: from.People.Version != to.People.Version,
		list: !maps.Equal(from.Policy.List, to.Policy.List) || !maps.Equal(from.Policy.Mix, to.Policy.Mix)}
	r.sameEvidence = !r.people && sameRegions(a, b)
	r.mentionsBefore, r.mentionsAfter = from.People.MentionRates(a), to.People.MentionRates(b)
	if r.tables && r.sameEvidence && !r.list {
		r.both, _ = judgement.TwoOf(r.before, r.after)
	}
	if r.tables {
		r.cells = changedCells(a, b)
	}
	if r.people {
		r.known = changedPeople(from.People, to.People)
	}
	if !r.list && a.SameButCells(b) {
		r.characters = map[string]bool{}
		for cell := range r.cells {
			_, character, _ := strings.Cut(cell, "|")
			r.characters[character] = true
		}
	}
	return r
}

func sameRegions(a, b *diagnosis.Tables) bool {
	return slices.EqualFunc(a.Characters, b.Characters, func(x, y diagnosis.Character) bool { return x.ID == y.ID && x.Region == y.Region })
}

// changedCells are those of which any form shows something else, or that only one of the tables has.
func changedCells(a, b *diagnosis.Tables) map[string]bool {
	changed := map[string]bool{}
	for i := range b.Families {
		family := &b.Families[i]
		at := a.FamilyIndex(family.Name)
		for c := range b.Characters {
			id := b.Characters[c].ID
			if at < 0 || !reflect.DeepEqual(shownIn(&a.Families[at], id), shownIn(family, id)) {
				changed[family.Name+"|"+id] = true
			}
		}
	}
	return changed
}

// shownCell is what a form shows of a character.
type shownCell struct {
	form   string
	weight float64
	p      []float64
	length diagnosis.Length
}

func shownIn(f *diagnosis.Family, character string) []shownCell {
	var shown []shownCell
	for i := range f.Forms {
		if cell := f.Forms[i].Cells[character]; cell != nil {
			shown = append(shown, shownCell{form: f.Forms[i].ID, weight: f.Forms[i].Weight, p: cell.P, length: cell.Length})
		}
	}
	return shown
}

func changedPeople(a, b *Reliability) map[string]bool {
	changed := map[string]bool{}
	for _, people := range []map[string]PersonKnown{a.People, b.People} {
		for person := range people {
			if !reflect.DeepEqual(a.People[person], b.People[person]) {
				changed[person] = true
			}
		}
	}
	return changed
}

// reweighing is one determination while it is weighed.
type reweighing struct {
	*Submission
	spec          *Specimen
	siblings      []Submission
	before, after judgement.Standing
	// evidence as it is weighed by both.
	was, will judgement.Evidence
}

// Balance weighs one determination after the other over memory that is used again. It is for one goroutine.
type Balance struct {
	*Reweigher
	d                     reweighing
	gathered, gatheredToo gathering
}

// Balance returns one.
func (r *Reweigher) Balance() *Balance { return &Balance{Reweigher: r} }

// Weigh says how a settled determination would be touched; nil: not at all. same: that is certain without weighing, since nothing that was
// said of it weighs otherwise. Of siblings what is sealed takes no part.
func (b *Balance) Weigh(s *Submission, spec *Specimen, siblings []Submission) (found []Touched, same bool) {
	if b.same(spec, siblings) {
		return nil, true
	}
	d := &b.d
	d.Submission, d.spec, d.siblings = s, spec, siblings
	d.was, d.will = b.evidenceOf(s, spec, siblings)
	switch {
	case b.both != nil:
		b.both.FillApart(&d.before, &d.after, &d.was) // what contradicts by both touches nothing
	case b.tables || b.list || b.people:
		b.before.FillStanding(&d.before, &d.was)
		b.after.FillStanding(&d.after, &d.will)
	default:
		b.before.FillStanding(&d.before, &d.was)
		d.after = d.before
	}
	return b.touched(d), false
}

// evidenceOf is what was said, as both weigh it. It is good until the next.
func (b *Balance) evidenceOf(s *Submission, spec *Specimen, siblings []Submission) (was, will judgement.Evidence) {
	was = Weighing{People: b.from.People}.gather(&b.gathered, s, spec, siblings, b.from.Judge.Tables())
	will = was
	if !b.sameEvidence {
		will = Weighing{People: b.to.People}.gather(&b.gatheredToo, s, spec, siblings, b.to.Judge.Tables())
	}
	if len(was.Free) > 0 {
		was.Mentions, will.Mentions = b.mentionsBefore, b.mentionsAfter
	}
	return was, will
}

func (r *Reweigher) evidence(by *Scales, s *Submission, spec *Specimen, siblings []Submission, people *Reliability) judgement.Evidence {
	return Weighing{People: people}.Evidence(s, spec, siblings, by.Judge.Tables())
}

// same says whether both scales weigh everything that was said of a specimen alike, so that nothing has to be weighed: no stated
// character shows otherwise in any family, nobody's reports weigh otherwise, and nobody told freely.
func (r *Reweigher) same(spec *Specimen, siblings []Submission) bool {
	if r.characters == nil || r.from.Policy.Confidence < r.to.Policy.Confidence {
		return false
	}
	for i := range spec.Observations {
		o := &spec.Observations[i]
		if o.List == ListFree || r.characters[o.Character] || r.known[o.By] {
			return false
		}
	}
	if !r.people {
		return true
	}
	for i := range siblings {
		if slices.ContainsFunc(siblings[i].Verdicts, func(v Verdict) bool { return r.known[v.By] }) ||
			slices.ContainsFunc(siblings[i].Blind, func(b BlindCheck) bool { return r.known[b.By] }) {
			return false
		}
	}
	return true
}

func (r *Reweigher) touched(d *reweighing) []Touched {
	if d.after.Family == "" {
		return d.add(nil, TouchNameless, Cause{Kind: CauseFamily, Family: d.Determination.Family}, "")
	}
	var found []Touched
	for _, c := range d.after.Contradictions {
		if !slices.ContainsFunc(d.before.Contradictions, c.Same) {
			found = d.add(found, TouchNew, r.causeOf(d, c), said(c))
		}
	}
	if d.before.Confidence >= r.from.Policy.Confidence && d.after.Confidence < r.to.Policy.Confidence {
		cause := Cause{Kind: CauseThreshold}
		if d.after.Confidence < r.from.Policy.Confidence {
			cause = r.moved(d, 1)
		}
		found = d.add(found, TouchBelow, cause, "")
	}
	for _, c := range d.before.Contradictions {
		if !slices.ContainsFunc(d.after.Contradictions, c.Same) {
			found = d.add(found, TouchGone, r.causeOf(d, c), said(c))
		}
	}
	return found
}

func said(c judgement.Contradiction) string {
	return " " + string(c.Kind) + " " + c.Character + " " + c.State
}

// add takes one in; what touches in the same way for the same cause stands in one row.
func (d *reweighing) add(found []Touched, effect Touch, cause Cause, detail string) []Touched {
	key := cause.Key()
	for i := range found {
		if found[i].Effect == effect && found[i].Cause == key {
			found[i].Detail += detail
			return found
		}
	}
	return append(found, Touched{Submission: d.ID, Effect: effect, Cause: key, Before: d.before.Confidence, After: d.after.Confidence, Detail: detail})
}

// causeOf is why a contradiction stands by one of the scales alone. Only a better fit comes of the numbers; everything else is between
// the tables and what reviewers hold to be true.
func (r *Reweigher) causeOf(d *reweighing, c judgement.Contradiction) Cause {
	if c.Kind == judgement.BetterFit {
		return r.moved(d, d.before.Confidence-d.after.Confidence)
	}
	if r.cells[c.Family+"|"+c.Character] {
		return Cause{Kind: CauseCell, Family: c.Family, Character: c.Character}
	}
	for _, w := range c.With {
		if r.cells[c.Family+"|"+w.Character] {
			return Cause{Kind: CauseCell, Family: c.Family, Character: w.Character}
		}
	}
	return Cause{Kind: CauseCharacter, Character: c.Character}
}

// moved is what moves the confidence most in a direction: down where it is above 0. Where more than one of tables, list and people
// differ, each is tried alone.
func (r *Reweigher) moved(d *reweighing, direction float64) Cause {
	sign := 1.0
	if direction < 0 {
		sign = -1
	}
	most, cause := math.Inf(-1), Cause{Kind: CausePeople}
	try := func(differs bool, scales Scales, of func() Cause) {
		if !differs {
			return
		}
		fall := 0.0
		if r.several() {
			e := r.evidence(&scales, d.Submission, d.spec, d.siblings, scales.People)
			fall = sign * (logit(d.before.Confidence) - logit(scales.weigher().Standing(&e).Confidence))
		}
		if fall > most {
			most, cause = fall, of()
		}
	}
	try(r.tables, Scales{r.to.Judge, r.from.Policy, r.from.People}, func() Cause { return r.cellThatMoved(d, sign) })
	try(r.list, Scales{r.from.Judge, r.to.Policy, r.from.People}, func() Cause { return Cause{Kind: CauseList} })
	try(r.people, Scales{r.from.Judge, r.from.Policy, r.to.People}, func() Cause { return r.personWhoMoved(d, sign) })
	return cause
}

func (r *Reweigher) several() bool {
	n := 0
	for _, differs := range []bool{r.tables, r.list, r.people} {
		if differs {
			n++
		}
	}
	return n > 1
}

// cellThatMoved is that of the stated character whose weight for the name, against who comes next to it or before it, has moved most.
func (r *Reweigher) cellThatMoved(d *reweighing, sign float64) Cause {
	rival := d.after.Rival
	if only, ok := r.onlyChanged(d); ok {
		return r.causeIn(d, only, rival)
	}
	was, will := r.before.Weights(&d.was, d.after.Family, rival), r.after.Weights(&d.will, d.after.Family, rival)
	most, by := 0.0, judgement.WhyPrior
	for _, w := range will {
		at := slices.IndexFunc(was, func(o judgement.Weight) bool { return o.Character == w.Character })
		if at < 0 {
			continue
		}
		if fall := sign * (was[at].Decibans - w.Decibans); fall > most {
			most, by = fall, w.Character
		}
	}
	if by == judgement.WhyPrior {
		return Cause{Kind: CauseCommon}
	}
	return r.causeIn(d, by, rival)
}

// onlyChanged is the one stated character of which some family shows something else, where the tables differ in cells alone: then there
// is nothing else that could have moved anything.
func (r *Reweigher) onlyChanged(d *reweighing) (character string, ok bool) {
	if r.both == nil || r.characters == nil || len(d.was.Free) > 0 { // what a list passes over is told by cells, too
		return "", false
	}
	for i := range d.was.Stated {
		c := d.was.Stated[i].Character
		if !r.characters[c] || c == character {
			continue
		}
		if character != "" {
			return "", false
		}
		character = c
	}
	return character, character != ""
}

// causeIn is a change of what the tables say of a character: in the family, in its rival, or elsewhere.
func (r *Reweigher) causeIn(d *reweighing, by, rival string) Cause {
	switch {
	case r.cells[d.after.Family+"|"+by]:
		return Cause{Kind: CauseCell, Family: d.after.Family, Character: by}
	case r.cells[rival+"|"+by]:
		return Cause{Kind: CauseCell, Family: rival, Character: by}
	}
	return Cause{Kind: CauseCharacter, Character: by}
}

// personWhoMoved is the one of those who reported whose other reliability alone moves the confidence most.
func (r *Reweigher) personWhoMoved(d *reweighing, sign float64) Cause {
	most, who := 0.0, ""
	for _, person := range Reporters(d.spec, d.siblings) {
		if !r.known[person] {
			continue
		}
		one := *r.from.People
		one.People = map[string]PersonKnown{}
		for _, other := range Reporters(d.spec, d.siblings) {
			if known, ok := r.from.People.People[other]; ok {
				one.People[other] = known
			}
		}
		delete(one.People, person)
		if known, ok := r.to.People.People[person]; ok {
			one.People[person] = known
		}
		e := r.evidence(&r.from, d.Submission, d.spec, d.siblings, &one)
		if fall := sign * (logit(d.before.Confidence) - logit(r.before.Standing(&e).Confidence)); fall > most {
			most, who = fall, person
		}
	}
	if who == "" || r.from.Policy.ReliabilityShown != ShownNames { // of whom is nobody's business then
		return Cause{Kind: CausePeople}
	}
	return Cause{Kind: CausePerson, Person: who}
}

// Details are the contradictions of a Detail, as kind, character and state.
func (t Touched) Details() [][3]string {
	var out [][3]string
	for words := strings.Fields(t.Detail); len(words) >= 3; words = words[3:] {
		out = append(out, [3]string{words[0], words[1], words[2]})
	}
	return out
}

// Bare is what the posteriors of a determination take by the one scales and by the other, for measurements of what these alone cost.
func (b *Balance) Bare(s *Submission, spec *Specimen, siblings []Submission) (was, will judgement.Evidence, before, after *judgement.Weigher) {
	was, will = b.evidenceOf(s, spec, siblings)
	return was, will, b.before, b.after
}

package pages

import (
	"context"
	"strconv"

	"revidit/review"
	"revidit/review/diagnosis"
	"revidit/review/judgement"
	"revidit/review/service"
	"revidit/web/words"
)

// What the buttons of a first visit send besides the number of a step.
const (
	VisitEnd   = "end"
	VisitNever = "never"
)

// VisitURL is a step of the first visit.
func VisitURL(step int) string { return "/visit/" + strconv.Itoa(step) }

// VisitData is one step of a first visit; what the step or the role does not show is nil or empty.
type VisitData struct {
	Step int
	// Case is the determination that it is shown on; nil where there is neither one of the club nor of the tables.
	Case *service.VisitCase
	// Without and With are what the characters say: of a member's question without an answer and with one, of a review without the
	// verdicts on its character and with them.
	Without, With judgement.Assessment
	// Chosen is the state that a member has chosen; empty before.
	Chosen        string
	Contradiction judgement.Contradiction
	Queue         []service.QueueLine
	Ledger        *service.Ledger
}

// name is that of a person of the case; who is made up is called by what they are.
func (d VisitData) name(ctx context.Context, person string) string {
	switch person {
	case service.MadeUpMember:
		return words.T(ctx, "visit.a-member")
	case service.MadeUpReviewer:
		return words.T(ctx, "visit.a-reviewer")
	}
	return name(ctx, d.Case.View.Names, person)
}

// family is the name that was proposed.
func (d VisitData) family() string { return d.Case.View.Submission.Determination.Family }

func (d VisitData) character(b Book) *diagnosis.Character {
	return b.character(d.Case.Observation.Character)
}

// shown are the observations of the case that stand.
func (d VisitData) shown() []Shown {
	var all []Shown
	for _, s := range ShownOf(d.Case.View) {
		if s.Withdrawn == "" {
			all = append(all, s)
		}
	}
	return all
}

// its is the observation that the case is about, as it is shown.
func (d VisitData) its() Shown {
	for _, s := range d.shown() {
		if s.ID == d.Case.Observation.ID {
			return s
		}
	}
	return Shown{Observation: d.Case.Observation}
}

// photo is where the observation of the case was seen, with a place marked.
func (d VisitData) photo() (review.Photo, bool) {
	p, ok := d.Case.View.Specimen.Photo(d.its().Photo)
	return p, ok && d.its().Region != nil
}

// doubt is the first determination that a release puts in doubt, with its group; false where there is none.
func (d VisitData) doubt() (review.Affected, string, bool) {
	for _, doubts := range d.Ledger.Doubts {
		if len(doubts.List) > 0 {
			return doubts.List[0], doubts.Group, true
		}
	}
	return review.Affected{}, "", false
}

// title is the heading of the step, by role.
func (d VisitData) title(ctx context.Context, role review.Role) string {
	step := strconv.Itoa(d.Step)
	switch role {
	case review.RoleCurator:
		return coded(ctx, "visit.curator-", step)
	case review.RoleReviewer:
		return coded(ctx, "visit.reviewer-", step)
	}
	return coded(ctx, "visit.member-", step)
}

// verdictsOn says what people said of an observation, a line for each.
func (d VisitData) verdictsOn(ctx context.Context, b Book, s Shown) []string {
	var all []string
	for _, v := range s.Verdicts {
		person, verdict := d.name(ctx, v.By), verdictWords(ctx, v.Kind)
		if v.Better == "" {
			all = append(all, capital(words.T(ctx, "visit.verdict-on", "Person", person, "Verdict", verdict)))
			continue
		}
		all = append(all, capital(words.T(ctx, "visit.verdict-better", "Person", person, "Verdict", verdict, "State", b.State(s.Character, v.Better))))
	}
	if len(all) == 0 {
		return []string{words.T(ctx, "visit.nobody-said")}
	}
	return all
}

// ledgerSum is how many lines a list of the ledger has.
type ledgerSum struct{ Words, Number string }

func ledgerSums(ctx context.Context, l service.Ledger) []ledgerSum {
	doubts, more := 0, false
	for _, d := range l.Doubts {
		doubts, more = doubts+len(d.List), more || d.More
	}
	atLeast := func(n int, more bool) string {
		if more {
			return words.T(ctx, "visit.over", "Number", n)
		}
		return strconv.Itoa(n)
	}
	return []ledgerSum{
		{words.T(ctx, "visit.sum-proposals"), atLeast(len(l.Proposals), l.MoreProposals)},
		{words.T(ctx, "visit.sum-doubts"), atLeast(doubts, more)},
		{words.T(ctx, "visit.sum-panels"), atLeast(len(l.Parted), l.MoreParted)},
		{words.T(ctx, "visit.sum-slips"), atLeast(len(l.Slips), l.MoreSlips)},
		{words.T(ctx, "visit.sum-people"), atLeast(len(l.People), l.MorePeople)},
	}
}

// betterOf is what the first who saw something else saw; empty where nobody said.
func betterOf(s Shown) string {
	for _, v := range s.Verdicts {
		if v.Kind == review.VerdictDispute && v.Better != "" {
			return v.Better
		}
	}
	return ""
}

package pages

import (
	"strconv"

	"revidit/review"
	"revidit/review/diagnosis"
	"revidit/review/judgement"
	"revidit/review/service"
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

// names are those of the case; who is made up is called by what they are.
func (d VisitData) names() map[string]string {
	if !d.Case.MadeUp {
		return d.Case.View.Names
	}
	return map[string]string{service.MadeUpMember: "a member", service.MadeUpReviewer: "a reviewer"}
}

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

// visitTitles are the headings of the steps, by role.
var visitTitles = map[review.Role][]string{
	review.RoleMember:   {"One that is finished", "One question", "Your own"},
	review.RoleReviewer: {"A character that was confirmed", "A character that somebody saw otherwise", "What waits for you"},
	review.RoleCurator:  {"What does not fit", "What new tables put in doubt", "What waits for your decision"},
}

// verdictsOn says in one line what people said of an observation.
func verdictsOn(b Book, names map[string]string, s Shown) string {
	var all []string
	for _, v := range s.Verdicts {
		words := name(names, v.By) + " " + verdictWords[v.Kind]
		if v.Better != "" {
			words += ": " + b.State(s.Character, v.Better)
		}
		all = append(all, words)
	}
	if len(all) == 0 {
		return "Nobody has said anything of it."
	}
	return capital(listed(all)) + "."
}

// nowWords say how a probability has moved.
func nowWords(without, with float64) string {
	return Probability(without) + ", " + Likelihood(without) + "; with them " + Probability(with) + ", " + Likelihood(with)
}

package review

import (
	"slices"
	"strings"

	"revidit/review/diagnosis"
	"revidit/review/judgement"
)

// WhyUnseen is why somebody who was asked for a character has not stated it.
type WhyUnseen string

const (
	UnseenHidden   WhyUnseen = "hidden"         // card, glue or another part covers it: another photo or preparation would show it
	UnseenPhoto    WhyUnseen = "not-on-photo"   // the specimen is not at hand, and no photo shows it: a photo to ask for
	UnseenBroken   WhyUnseen = "broken-off"     // the part is missing on the specimen
	UnseenNotKnown WhyUnseen = "part-not-known" // the observer does not know the part, or cannot tell its states apart
)

// WhysUnseen are all of them.
var WhysUnseen = []WhyUnseen{UnseenHidden, UnseenPhoto, UnseenBroken, UnseenNotKnown}

// Unseen is a character that the owner of a submission was asked for and could not state.
type Unseen struct {
	Group     string    `json:"group,omitempty" maxLength:"60" doc:"Of a question of the wider group: its id"`
	Character string    `json:"character" maxLength:"60"`
	Why       WhyUnseen `json:"why" enum:"hidden,not-on-photo,broken-off,part-not-known"`
}

// maxUnseen is how many a submission has at most: more than there are characters to ask for.
const maxUnseen = maxObservations + maxWider

// checkUnseen adds what is wrong with a list of what could not be stated; observations are what was.
func checkUnseen(p *Problems, judge *judgement.Judge, unseen []Unseen, observations []ObservationForm) {
	if len(unseen) > maxUnseen {
		p.Addf("unseen", "at most %d characters", maxUnseen)
		return
	}
	seen := map[Unseen]bool{}
	for i, u := range unseen {
		field := FieldOf("unseen", i)
		if !slices.Contains(WhysUnseen, u.Why) {
			p.Addf(field+".why", "must be hidden, not-on-photo, broken-off or part-not-known")
		}
		of := Unseen{Group: u.Group, Character: u.Character}
		if seen[of] {
			p.Addf(field+".character", "is in the list twice")
		}
		seen[of] = true
		if u.Group != "" {
			if !slices.ContainsFunc(judge.WiderQuestions(), func(n judgement.Next) bool { return n.Group == u.Group && n.Character == u.Character }) {
				p.Addf(field+".character", "%q is not asked of the wider group", u.Character)
			}
			continue
		}
		if _, ok := judge.Tables().Character(u.Character); !ok {
			p.Addf(field+".character", "%q is not a character of these tables", u.Character)
		}
		if slices.ContainsFunc(observations, func(o ObservationForm) bool { return o.Character == u.Character }) {
			p.Addf(field+".character", "%s is stated, too", u.Character)
		}
	}
}

// nilIfEmpty makes no list the same, however it is written.
func nilIfEmpty[T any](list []T) []T {
	if len(list) == 0 {
		return nil
	}
	return list
}

// withMissing is a label that also says which parts have broken off, by what was answered where characters were asked for. What
// it says already stays as it was written.
func withMissing(l Label, unseen []Unseen, t *diagnosis.Tables) Label {
	for _, u := range unseen {
		if u.Why != UnseenBroken || u.Group != "" {
			continue
		}
		c, ok := t.Character(u.Character)
		if !ok {
			continue
		}
		part := PartOf(c)
		if strings.Contains(strings.ToLower(l.MissingParts), part) {
			continue
		}
		said := part
		if l.MissingParts != "" {
			said = l.MissingParts + "; " + part
		}
		if len([]rune(said)) > maxMissingParts {
			return l
		}
		l.MissingParts = said
	}
	return l
}

// maxMissingParts is the limit of Label.MissingParts; a test holds the two to each other.
const maxMissingParts = 300

// PartOf is the part of the body that a character is of, in small letters: what stands before the comma in "Antenna, length".
func PartOf(c *diagnosis.Character) string {
	part, _, _ := strings.Cut(c.Label, ",")
	return strings.ToLower(strings.TrimSpace(part))
}

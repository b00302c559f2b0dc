package review

import (
	"slices"
	"strings"
	"unicode/utf8"

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

// Asked is a character that somebody is asked for, of the wider group where Group is set.
type Asked struct{ Group, Character string }

// Answered are the characters that need not be asked any more: stated ones and those that could not be.
func (now *Dossier) Answered() []Asked {
	var answered []Asked
	for _, o := range now.observationForms() {
		answered = append(answered, Asked{Character: o.Character})
	}
	for _, u := range now.Submission.Unseen {
		answered = append(answered, Asked{u.Group, u.Character})
	}
	for _, a := range now.Submission.Wider {
		for _, n := range now.Judge.WiderQuestions() {
			if n.Character == a.Character {
				answered = append(answered, Asked{n.Group, n.Character})
			}
		}
	}
	return answered
}

// Step is one answer of the owner of a draft who is asked one question after another. Exactly one of State and Why is given, or
// neither: then the answer is taken back.
type Step struct {
	Group     string // of a question of the wider group; empty: of the tables
	Character string
	State     string
	Why       WhyUnseen
	Sureness  Sureness
	Photo     string
	Region    *Region
}

// On is what a step changes in the draft that is looked at.
func (s Step) On(now *Dossier) Revision {
	unseen := slices.DeleteFunc(slices.Clone(now.Submission.Unseen), func(u Unseen) bool { return u.Group == s.Group && u.Character == s.Character })
	if s.Why != "" {
		unseen = append(unseen, Unseen{Group: s.Group, Character: s.Character, Why: s.Why})
	}
	r := Revision{Unseen: append([]Unseen{}, unseen...)}
	if s.Group != "" {
		r.Wider = append([]WiderAnswer{}, slices.DeleteFunc(slices.Clone(now.Submission.Wider), func(a WiderAnswer) bool { return a.Character == s.Character })...)
		if s.State != "" {
			r.Wider = append(r.Wider, WiderAnswer{Character: s.Character, State: s.State})
		}
		return r
	}
	r.Observations = slices.DeleteFunc(now.observationForms(), func(o ObservationForm) bool { return o.Character == s.Character })
	if s.State != "" {
		r.Observations = append(r.Observations, ObservationForm{Character: s.Character, State: s.State, Sureness: s.Sureness, Photo: s.Photo, Region: s.Region})
	}
	return r
}

// WithoutPhotos are the standing observations of a submission as a form has them, without the photos that it no longer has.
func (now *Dossier) WithoutPhotos(left []PhotoForm) []ObservationForm {
	forms := now.observationForms()
	for i, o := range forms {
		if o.Photo != "" && !slices.ContainsFunc(left, func(p PhotoForm) bool { return p.Photo == o.Photo }) {
			forms[i].Photo, forms[i].Region = "", nil
		}
	}
	return forms
}

// hint is what the service has told the owner of a draft that does not fit: a state of a character.
type hint = judgement.Selected

// hintsOf are the states that an assessment says do not fit, each once. That no photo shows a character says nothing about its
// state, and that another family fits better nothing about a single one.
func hintsOf(a judgement.Assessment) []hint {
	var told []hint
	add := func(h hint) {
		if h.Character != "" && !slices.Contains(told, h) {
			told = append(told, h)
		}
	}
	for _, c := range a.Contradictions {
		if c.Kind == judgement.Unseen || c.Kind == judgement.BetterFit {
			continue
		}
		add(hint{Character: c.Character, State: c.State})
		for _, w := range c.With {
			add(w)
		}
	}
	return told
}

// afterHint says whether somebody who states a character had been told before that another state of it does not fit.
func afterHint(told []hint, character, state string) bool {
	return slices.ContainsFunc(told, func(h hint) bool { return h.Character == character && h.State != state })
}

// Told adds to a draft what its owner is told that does not fit as it stands now. It is remembered however the draft changes:
// what has been said cannot be unsaid.
func (now *Dossier) Told(d Draft) Draft {
	then := *now
	then.Take(d, now.Registered)
	told := slices.Clone(d.Told)
	for _, h := range hintsOf(then.Alone()) {
		if !slices.Contains(told, h) && len(told) < maxTold {
			told = append(told, h)
		}
	}
	d.Told = told
	return d
}

// maxTold bounds what a draft remembers: more than there are states that anybody tries.
const maxTold = 400

// Alone is the assessment of the submission that is looked at by what its owner states in it, for that owner as the one who
// looks next: never by what others said of its specimen, which may be sealed.
func (now *Dossier) Alone() judgement.Assessment {
	w := now.weighing(now.Judge)
	look := now.People.Look(now.Actor.Person, now.Actor.Role, now.Judge.Tables())
	w.look = &look
	own := *now.Submission
	own.Verdicts, own.Blind = nil, nil
	return w.Assess(now.Judge, &own, now.Specimen, nil)
}

// Loose is what was typed into a form and cannot be taken as it is, by the name of the field: a draft holds anything.
type Loose map[string]string

// Limits on Loose, in fields and bytes: what the largest form can send.
const (
	maxLooseFields = 1000
	maxLooseBytes  = 256 << 10
)

// Kept is what is stored of it: nothing where it is empty, so that a draft that holds none is the same however it was written.
func (l Loose) Kept() Loose {
	if len(l) == 0 {
		return nil
	}
	return l
}

func (l Loose) check(p *Problems) {
	size := 0
	for field, text := range l {
		size += len(field) + len(text)
		if !utf8.ValidString(field+text) || strings.ContainsRune(field+text, 0) {
			p.Addf("loose", "contains what is no text")
		}
	}
	if len(l) > maxLooseFields || size > maxLooseBytes {
		p.Addf("loose", "at most %d fields and %d bytes", maxLooseFields, maxLooseBytes)
	}
}

// remaining adds what has to be mended before reviewers see it.
func (l Loose) remaining(p *Problems) {
	fields := make([]string, 0, len(l))
	for field := range l {
		fields = append(fields, field)
	}
	slices.Sort(fields)
	for _, field := range fields {
		p.Addf(field, "holds %q, which cannot be taken as it is: correct it or empty it", l[field])
	}
}

package pages

import (
	"fmt"
	"strings"

	"revidit/review"
	"revidit/review/judgement"
	"revidit/review/service"
)

// Told is one event in words.
type Told struct {
	At, Who, What string
	Hidden        bool
	Stream        string
	Seq           int
	Details       []Detail
}

// Detail is something that an event says or changed. Before is empty where nothing stood there.
type Detail struct{ Term, Before, After string }

// teller turns events into words; it remembers what stood before, so that a change can be shown as one.
type teller struct {
	book     Book
	names    map[string]string
	label    map[string]review.Label    // by stream
	proposal map[string]review.Proposal // by stream
	observed map[string]review.Observation
}

// Tell turns a history into words, the oldest first.
func Tell(book Book, h service.History) []Told {
	t := teller{book: book, names: h.Names, label: map[string]review.Label{}, proposal: map[string]review.Proposal{},
		observed: map[string]review.Observation{}}
	told := make([]Told, 0, len(h.Entries))
	for _, e := range h.Entries {
		line := Told{At: minuteOf(e.At), Who: name(h.Names, e.Actor) + ", " + string(e.Role), Stream: e.Stream, Seq: e.Seq}
		if e.Hidden {
			line.What, line.Hidden = "Closed until you have saved yours", true
		} else {
			line.What, line.Details = t.words(e)
		}
		told = append(told, line)
	}
	return told
}

// minuteOf shortens an RFC 3339 time in UTC to its minute.
func minuteOf(at string) string {
	if len(at) < 16 {
		return at
	}
	return strings.Replace(at[:16], "T", " ", 1) + " UTC"
}

func (t *teller) words(e service.HistoryEntry) (string, []Detail) {
	switch c := e.Change.(type) {
	case *review.SpecimenRegistered:
		t.label[e.Stream] = c.Label
		return "registered the specimen", labelChanges(review.Label{}, c.Label)
	case *review.LabelCorrected:
		before := t.label[e.Stream]
		t.label[e.Stream] = c.Label
		return "changed the label data", append(labelChanges(before, c.Label), reason(c.Reason)...)
	case *review.PhotosAdded:
		return "added " + count(len(c.Photos), "photo", "photos"), t.photos(c.Photos)
	case *review.ObservationsRecorded:
		return "stated " + count(len(c.Observations), "character", "characters"), t.observations(c.Observations)
	case *review.ObservationWithdrawn:
		return "took an observation back", append(t.observation(c.Observation), reason(c.Reason)...)
	case *review.Drafted:
		t.proposal[e.Stream] = c.Proposal
		return "began a submission", t.proposalChanges(review.Proposal{}, c.Proposal)
	case *review.Revised:
		before := t.proposal[e.Stream]
		t.proposal[e.Stream] = c.Proposal
		return "changed the draft", t.proposalChanges(before, c.Proposal)
	}
	return t.review(e.Change)
}

func (t *teller) review(change review.Change) (string, []Detail) {
	switch c := change.(type) {
	case *review.Submitted:
		return "submitted it for review", nil
	case *review.Held:
		return "held it until " + Minute(c.Until), nil
	case *review.HoldEnded:
		return "ended the hold", nil
	case *review.VerdictsGiven:
		return "gave " + count(len(c.Verdicts), "verdict", "verdicts"), t.verdicts(c.Verdicts)
	case *review.Opened:
		if c.Verdicts {
			return "was shown what others had said", nil
		}
		return "was shown the specimen with its names", nil
	case *review.BlindChecked:
		return "looked blind at one character", t.look(c.Check)
	case *review.RecheckDrawn:
		return "it was drawn for a blind recheck", []Detail{{Term: "Probability", After: Share(c.Rate)}, {Term: "People", After: itoa(c.Panel)}}
	case *review.PanelOpinionGiven:
		return "named it from the photos alone: " + panelWords(c.Opinion), reason(c.Opinion.Note)
	case *review.PanelLeft:
		return "left the panel of the recheck", nil
	case *review.OpinionGiven:
		words := opinionWords(c.Opinion) + ", " + basisOfOpinion[c.Opinion.Basis]
		if c.Opinion.AfterOpening {
			words += ", " + afterOpening
		}
		return words, reason(c.Opinion.Note)
	case *review.Replied:
		return "replied to a contradiction (" + string(c.Reply.Kind) + ")",
			[]Detail{{Term: t.book.Character(c.Reply.Character), After: t.book.State(c.Reply.Character, c.Reply.State)}, {Term: "Reason", After: typed(c.Reply.Reason)}}
	case *review.Returned:
		return "returned it and asked for " + wantWords[c.Return.Want], t.request(c.Return)
	case *review.Answered:
		return "sent an answer", []Detail{{Term: "Answer", After: answerText(c.Answer)}}
	case *review.Assessed:
		return "the characters were weighed", assessed(c.Assessment)
	}
	return t.closing(change)
}

func (t *teller) closing(change review.Change) (string, []Detail) {
	switch c := change.(type) {
	case *review.Confirmed:
		if c.Settlement.OnAuthority {
			return "settled it on authority", reason(c.Settlement.Reason)
		}
		if c.Settlement.Confidence == 0 { // not told
			return "the name settled", []Detail{{Term: "Agreeing", After: t.people(c.Settlement.Agreeing)}}
		}
		return "the name settled", []Detail{{Term: "Confidence", After: Probability(c.Settlement.Confidence)}, {Term: "Agreeing", After: t.people(c.Settlement.Agreeing)}}
	case *review.Redetermined:
		return "redetermined it as " + c.Family, reason(c.Reason)
	case *review.Undetermined:
		return "left it undetermined: " + t.book.indet(), reason(c.Reason)
	case *review.Withdrawn:
		return "withdrew it", reason(c.Reason)
	case *review.Reopened:
		return "reopened it", reason(c.Reason)
	case *review.Audited:
		return "opened in an audit what others had said", reason(c.Reason)
	case *review.Upheld:
		return "looked into it again and let it stand", reason(c.Upholding.Reason)
	}
	return change.EventKind(), nil
}

func reason(text string) []Detail {
	if text == "" {
		return nil
	}
	return []Detail{{Term: "Why", After: typed(text)}}
}

func assessed(a judgement.Assessment) []Detail {
	var details []Detail
	if a.Confidence > 0 { // else it is not told
		details = append(details, Detail{Term: "Confidence", After: Probability(a.Confidence) + " for " + a.Family})
	}
	if len(a.Ranking) > 0 && a.Ranking[0].Family != a.Family {
		details = append(details, Detail{Term: "Leading", After: a.Ranking[0].Family + ", " + Probability(a.Ranking[0].P)})
	}
	if len(a.Contradictions) > 0 {
		details = append(details, Detail{Term: "Contradictions", After: itoa(len(a.Contradictions))})
	}
	return append(details, Detail{Term: "Tables", After: fmt.Sprintf("release %s (%.12s), method %s", a.Release, a.TablesHash, a.MadeBy())})
}

func (t *teller) people(ids []string) string {
	words := make([]string, len(ids))
	for i, id := range ids {
		words[i] = name(t.names, id)
	}
	return strings.Join(words, ", ")
}

func (t *teller) photos(photos []review.Photo) []Detail {
	var details []Detail
	for _, p := range photos {
		details = append(details, Detail{Term: "Photo", After: t.book.View(p.View)})
	}
	return details
}

func (t *teller) observations(list []review.Observation) []Detail {
	var details []Detail
	for _, o := range list {
		t.observed[o.ID] = o
		details = append(details, Detail{Term: t.book.Character(o.Character), After: t.book.State(o.Character, o.State) + ", " + surenessWords[o.Sureness]})
	}
	return details
}

func (t *teller) observation(id string) []Detail {
	o, ok := t.observed[id]
	if !ok {
		return nil
	}
	return []Detail{{Term: t.book.Character(o.Character), Before: t.book.State(o.Character, o.State)}}
}

func (t *teller) look(b review.BlindCheck) []Detail {
	o := t.observed[b.Observation]
	words := blindWords(t.book, o.Character, b)
	if b.Note != "" {
		words += ". “" + typed(b.Note) + "”"
	}
	return []Detail{{Term: t.book.Character(o.Character), After: words}}
}

func (t *teller) verdicts(list []review.Verdict) []Detail {
	var details []Detail
	for _, v := range list {
		o := t.observed[v.Observation]
		words := verdictWords[v.Kind] + " " + t.book.State(o.Character, o.State)
		if v.Better != "" {
			words += ", better: " + t.book.State(o.Character, v.Better)
		}
		if v.AfterOpening {
			words += ", " + afterOpening
		}
		if v.Note != "" {
			words += ". “" + typed(v.Note) + "”"
		}
		details = append(details, Detail{Term: t.book.Character(o.Character), After: words})
	}
	return details
}

func (t *teller) request(r review.Return) []Detail {
	var details []Detail
	if r.View != "" {
		details = append(details, Detail{Term: "View", After: t.book.View(r.View)})
	}
	return append(details, reason(r.Text)...)
}

// changed lists a field where it is another one than before.
func changed(details []Detail, term, before, after string) []Detail {
	if before == after {
		return details
	}
	return append(details, Detail{Term: term, Before: before, After: after})
}

func labelChanges(a, b review.Label) []Detail {
	var d []Detail
	before := a.Lines()
	for i, after := range b.Lines() {
		d = changed(d, after.Title, typed(before[i].Text), typed(after.Text))
	}
	return d
}

func (t *teller) proposalChanges(a, b review.Proposal) []Detail {
	var d []Detail
	d = changed(d, "Name", written(a.Determination), written(b.Determination))
	d = changed(d, "Determined", determined(t.names, a.Determination), determined(t.names, b.Determination))
	d = changed(d, "Wording of the slip", typed(a.Determination.Wording), typed(b.Determination.Wording))
	d = changed(d, "Photos", some(len(a.Photos)), some(len(b.Photos)))
	d = changed(d, "Characters cited", some(len(a.Cites)), some(len(b.Cites)))
	d = changed(d, "Whether it belongs here", answered(a.Wider), answered(b.Wider))
	d = changed(d, "Not seen", t.notSeen(a.Unseen), t.notSeen(b.Unseen))
	return changed(d, "Remarks", typed(a.Remarks), typed(b.Remarks))
}

// answered are answers to the questions of the wider group.
func answered(answers []review.WiderAnswer) string {
	var words []string
	for _, a := range answers {
		words = append(words, a.Character+" "+a.State)
	}
	return strings.Join(words, ", ")
}

// notSeen are characters that could not be stated, with the reason.
func (t *teller) notSeen(unseen []review.Unseen) string {
	var words []string
	for _, u := range unseen {
		words = append(words, t.book.Character(u.Character)+": "+unseenWords[u.Why])
	}
	return strings.Join(words, "; ")
}

func some(n int) string {
	if n == 0 {
		return ""
	}
	return itoa(n)
}

func written(d review.Determination) string {
	if d.Family == "" {
		return ""
	}
	text := determinationName(d)
	if d.ScientificName != "" {
		text += ", " + typed(d.NameAt(review.RankSpecies))
	}
	return text
}

func determined(names map[string]string, d review.Determination) string {
	if d.Determiner == "" {
		return ""
	}
	if n, ok := names[d.Determiner]; ok {
		return typed(n) + ", " + slipDate(d.DeterminedOn)
	}
	return slipDate(d.DeterminedOn)
}

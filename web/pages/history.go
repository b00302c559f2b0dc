package pages

import (
	"context"
	"fmt"
	"strings"
	"time"

	"revidit/review"
	"revidit/review/judgement"
	"revidit/review/service"
	"revidit/web/words"
)

// Told is one event in words.
type Told struct {
	At, Who, What string
	Hidden        bool
	Stream        string
	Seq           int
	Details       []Detail
	// Position is where the act stands that it ends, to look at what it has left; 0 where the act goes on, nothing has begun yet, or
	// nothing was done.
	Position int64
}

// Detail is something that an event says or changed. Before is empty where nothing stood there.
type Detail struct{ Term, Before, After string }

// teller turns events into words; it remembers what stood before, so that a change can be shown as one.
type teller struct {
	ctx      context.Context // whose language it is told in
	book     Book
	names    map[string]string
	label    map[string]review.Label    // by stream
	proposal map[string]review.Proposal // by stream
	observed map[string]review.Observation
}

// Tell turns a history into words, the oldest first.
func Tell(ctx context.Context, book Book, h service.History) []Told {
	t := teller{ctx: ctx, book: book, names: h.Names, label: map[string]review.Label{}, proposal: map[string]review.Proposal{},
		observed: map[string]review.Observation{}}
	told := make([]Told, 0, len(h.Entries))
	for _, e := range h.Entries {
		line := Told{At: minuteOf(ctx, e.At), Who: whoActed(ctx, h.Names, e), Stream: e.Stream, Seq: e.Seq}
		if e.Hidden {
			line.What, line.Hidden = words.T(ctx, "history.closed"), true
		} else {
			line.What, line.Details = t.words(e)
		}
		told = append(told, line)
	}
	markActs(told, h)
	return told
}

// whoActed names a person with the role at that time. The program acts in nobody's role.
func whoActed(ctx context.Context, names map[string]string, e service.HistoryEntry) string {
	if e.Machine {
		return name(ctx, names, e.Actor)
	}
	return name(ctx, names, e.Actor) + ", " + roleWord(ctx, e.Role)
}

// markActs gives the last event of each act its position, from the beginning of the submission on.
func markActs(told []Told, h service.History) {
	begun := false
	for i, e := range h.Entries {
		begun = begun || strings.HasPrefix(e.Stream, review.SubmissionStream(""))
		goesOn := i+1 < len(h.Entries) && h.Entries[i+1].At == e.At && h.Entries[i+1].Actor == e.Actor
		if begun && !goesOn && !strings.HasPrefix(e.Stream, "opening/") {
			told[i].Position = e.Position
		}
	}
}

// minuteOf is a stored time to the minute; what is no RFC 3339 time stays as it is.
func minuteOf(ctx context.Context, at string) string {
	t, err := time.Parse(time.RFC3339, at)
	if err != nil {
		return at
	}
	return words.DateTime(ctx, t)
}

func (t *teller) words(e service.HistoryEntry) (string, []Detail) {
	switch c := e.Change.(type) {
	case *review.SpecimenRegistered:
		t.label[e.Stream] = c.Label
		return words.T(t.ctx, "history.registered"), t.labelChanges(review.Label{}, c.Label)
	case *review.LabelCorrected:
		before := t.label[e.Stream]
		t.label[e.Stream] = c.Label
		return words.T(t.ctx, "history.label-changed"), append(t.labelChanges(before, c.Label), t.reason(c.Reason)...)
	case *review.TakenIn:
		return words.T(t.ctx, "history.taken-in", "File", typed(c.File)), nil
	case *review.TakenOut:
		return words.T(t.ctx, "history.taken-out"), t.reason(c.Reason)
	case *review.Vouched:
		return words.T(t.ctx, "history.vouched"), t.reason(c.Reason)
	case *review.PhotosPublished:
		return words.N(t.ctx, "history.photos-published", len(c.Copies), "Holder", typed(c.Holder)), t.reason(c.Reason)
	case *review.PhotosUnpublished:
		return words.N(t.ctx, "history.photos-unpublished", len(c.Photos)), t.reason(c.Reason)
	case *review.PhotosAdded:
		return words.N(t.ctx, "history.photos-added", len(c.Photos)), t.photos(c.Photos)
	case *review.ObservationsRecorded:
		return words.N(t.ctx, "history.characters-stated", len(c.Observations)), t.observations(c.Observations)
	case *review.ObservationWithdrawn:
		return words.T(t.ctx, "history.observation-taken-back"), append(t.observation(c.Observation), t.reason(c.Reason)...)
	case *review.Drafted:
		t.proposal[e.Stream] = c.Proposal
		return words.T(t.ctx, "history.drafted"), t.proposalChanges(review.Proposal{}, c.Proposal)
	case *review.Revised:
		before := t.proposal[e.Stream]
		t.proposal[e.Stream] = c.Proposal
		return words.T(t.ctx, "history.revised"), t.proposalChanges(before, c.Proposal)
	}
	return t.review(e.Change)
}

func (t *teller) review(change review.Change) (string, []Detail) {
	switch c := change.(type) {
	case *review.Submitted:
		return words.T(t.ctx, "history.submitted"), nil
	case *review.Held:
		return words.T(t.ctx, "history.held", "Until", Minute(t.ctx, c.Until)), nil
	case *review.HoldPassedOn:
		return words.T(t.ctx, "history.hold-passed-on", "Name", name(t.ctx, t.names, c.To), "Until", Minute(t.ctx, c.Until)), t.reason(c.Reason)
	case *review.HoldEnded:
		return words.T(t.ctx, "history.hold-ended"), nil
	case *review.VerdictsGiven:
		return words.N(t.ctx, "history.verdicts-given", len(c.Verdicts)), t.verdicts(c.Verdicts)
	case *review.Opened:
		if c.Verdicts {
			return words.T(t.ctx, "history.opened-verdicts"), nil
		}
		return words.T(t.ctx, "history.opened"), nil
	case *review.BlindChecked:
		return words.T(t.ctx, "history.blind-look"), t.look(c.Check)
	case *review.RecheckDrawn:
		return words.T(t.ctx, "history.recheck-drawn"), []Detail{{Term: words.T(t.ctx, "history.probability"), After: Share(t.ctx, c.Rate)}, {Term: words.T(t.ctx, "history.people"), After: itoa(c.Panel)}}
	case *review.PanelOpinionGiven:
		return words.T(t.ctx, "history.panel-named", "Name", panelWords(t.ctx, c.Opinion)), t.reason(c.Opinion.Note)
	case *review.PanelLeft:
		return words.T(t.ctx, "history.panel-left"), nil
	case *review.OpinionGiven:
		said := opinionWords(t.ctx, c.Opinion) + ", " + basisOfOpinion(t.ctx, c.Opinion.Basis)
		if c.Opinion.AfterOpening {
			said += ", " + afterOpening(t.ctx)
		}
		return said, t.reason(c.Opinion.Note)
	case *review.Replied:
		return words.T(t.ctx, "history.replied", "Kind", contradictionShort(t.ctx, c.Reply.Kind)),
			[]Detail{{Term: t.book.Character(c.Reply.Character), After: t.book.State(c.Reply.Character, c.Reply.State)}, {Term: words.T(t.ctx, "history.reason"), After: typed(c.Reply.Reason)}}
	case *review.Returned:
		return words.T(t.ctx, "history.returned", "Want", wantWords(t.ctx, c.Return.Want)), t.request(c.Return)
	case *review.Answered:
		return words.T(t.ctx, "history.answered"), []Detail{{Term: words.T(t.ctx, "history.answer"), After: answerText(t.ctx, c.Answer)}}
	case *review.Assessed:
		return words.T(t.ctx, "history.assessed"), t.assessed(c.Assessment)
	}
	return t.closing(change)
}

func (t *teller) closing(change review.Change) (string, []Detail) {
	switch c := change.(type) {
	case *review.Confirmed:
		if c.Settlement.OnAuthority {
			return words.T(t.ctx, "history.settled-on-authority"), t.reason(c.Settlement.Reason)
		}
		if c.Settlement.Confidence == 0 { // not told
			return words.T(t.ctx, "history.settled"), []Detail{{Term: words.T(t.ctx, "history.agreeing"), After: t.people(c.Settlement.Agreeing)}}
		}
		return words.T(t.ctx, "history.settled"), []Detail{{Term: words.T(t.ctx, "history.confidence"), After: Probability(t.ctx, c.Settlement.Confidence)}, {Term: words.T(t.ctx, "history.agreeing"), After: t.people(c.Settlement.Agreeing)}}
	case *review.Redetermined:
		return words.T(t.ctx, "history.redetermined", "Family", c.Family), t.reason(c.Reason)
	case *review.Undetermined:
		return words.T(t.ctx, "history.left-undetermined", "Name", t.book.indet(t.ctx)), t.reason(c.Reason)
	case *review.Withdrawn:
		return words.T(t.ctx, "history.withdrew"), t.reason(c.Reason)
	case *review.Reopened:
		return words.T(t.ctx, "history.reopened"), t.reason(c.Reason)
	case *review.Audited:
		return words.T(t.ctx, "history.audited"), t.reason(c.Reason)
	case *review.SlipReleased:
		if c.TakenBack {
			return words.T(t.ctx, "labels.history-taken-back"), nil
		}
		return words.T(t.ctx, "labels.history-released"), nil
	case *review.SheetPrinted:
		var details []Detail
		for _, l := range c.Labels {
			details = append(details, Detail{Term: words.T(t.ctx, "labels.label"), After: printedWords(t.ctx, l)})
		}
		return words.T(t.ctx, "labels.history-printed"), details
	case *review.Upheld:
		return words.T(t.ctx, "history.upheld"), t.reason(c.Upholding.Reason)
	}
	return change.EventKind(), nil
}

func (t *teller) reason(text string) []Detail {
	if text == "" {
		return nil
	}
	return []Detail{{Term: words.T(t.ctx, "history.why"), After: typed(Given(t.ctx, text))}}
}

func (t *teller) assessed(a judgement.Assessment) []Detail {
	var details []Detail
	if a.Confidence > 0 { // else it is not told
		details = append(details, Detail{Term: words.T(t.ctx, "history.confidence"), After: words.T(t.ctx, "history.for", "P", Probability(t.ctx, a.Confidence), "Family", a.Family)})
	}
	if len(a.Ranking) > 0 && a.Ranking[0].Family != a.Family {
		details = append(details, Detail{Term: words.T(t.ctx, "history.leading"), After: a.Ranking[0].Family + ", " + Probability(t.ctx, a.Ranking[0].P)})
	}
	if len(a.Contradictions) > 0 {
		details = append(details, Detail{Term: words.T(t.ctx, "history.contradictions"), After: itoa(len(a.Contradictions))})
	}
	return append(details, Detail{Term: words.T(t.ctx, "history.tables"), After: words.T(t.ctx, "history.tables-of", "Release", a.Release, "Hash", fmt.Sprintf("%.12s", a.TablesHash), "Method", a.MadeBy())})
}

func (t *teller) people(ids []string) string {
	people := make([]string, len(ids))
	for i, id := range ids {
		people[i] = name(t.ctx, t.names, id)
	}
	return strings.Join(people, ", ")
}

func (t *teller) photos(photos []review.Photo) []Detail {
	var details []Detail
	for _, p := range photos {
		details = append(details, Detail{Term: words.T(t.ctx, "history.photo"), After: t.book.View(t.ctx, p.View)})
	}
	return details
}

func (t *teller) observations(list []review.Observation) []Detail {
	var details []Detail
	for _, o := range list {
		t.observed[o.ID] = o
		details = append(details, Detail{Term: t.book.Character(o.Character), After: t.book.State(o.Character, o.State) + ", " + surenessWords(t.ctx, o.Sureness)})
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
	said := blindWords(t.ctx, t.book, o.Character, b)
	if b.Note != "" {
		said = words.T(t.ctx, "history.with-note", "Said", said, "Note", typed(b.Note))
	}
	return []Detail{{Term: t.book.Character(o.Character), After: said}}
}

func (t *teller) verdicts(list []review.Verdict) []Detail {
	var details []Detail
	for _, v := range list {
		o := t.observed[v.Observation]
		said := words.T(t.ctx, "history.verdict", "Verdict", verdictWords(t.ctx, v.Kind), "State", t.book.State(o.Character, o.State))
		if v.Better != "" {
			said += words.T(t.ctx, "history.better", "State", t.book.State(o.Character, v.Better))
		}
		if v.AfterOpening {
			said += ", " + afterOpening(t.ctx)
		}
		if v.Note != "" {
			said = words.T(t.ctx, "history.with-note", "Said", said, "Note", typed(v.Note))
		}
		details = append(details, Detail{Term: t.book.Character(o.Character), After: said})
	}
	return details
}

func (t *teller) request(r review.Return) []Detail {
	var details []Detail
	if r.View != "" {
		details = append(details, Detail{Term: words.T(t.ctx, "history.view"), After: t.book.View(t.ctx, r.View)})
	}
	return append(details, t.reason(r.Text)...)
}

// changed lists a field where it is another one than before.
func changed(details []Detail, term, before, after string) []Detail {
	if before == after {
		return details
	}
	return append(details, Detail{Term: term, Before: before, After: after})
}

func (t *teller) labelChanges(a, b review.Label) []Detail {
	var d []Detail
	before := a.Lines()
	for i, after := range b.Lines() {
		d = changed(d, titleOf(t.ctx, after.Path), typed(before[i].Text), typed(after.Text))
	}
	return d
}

func (t *teller) proposalChanges(a, b review.Proposal) []Detail {
	var d []Detail
	d = changed(d, words.T(t.ctx, "history.name"), written(t.ctx, a.Determination), written(t.ctx, b.Determination))
	d = changed(d, words.T(t.ctx, "history.determined"), determined(t.ctx, t.names, a.Determination), determined(t.ctx, t.names, b.Determination))
	d = changed(d, words.T(t.ctx, "history.wording"), typed(a.Determination.Wording), typed(b.Determination.Wording))
	d = changed(d, words.T(t.ctx, "history.photos"), some(len(a.Photos)), some(len(b.Photos)))
	d = changed(d, words.T(t.ctx, "history.cited"), some(len(a.Cites)), some(len(b.Cites)))
	d = changed(d, words.T(t.ctx, "history.belongs"), answered(a.Wider), answered(b.Wider))
	d = changed(d, words.T(t.ctx, "history.not-seen"), t.notSeen(a.Unseen), t.notSeen(b.Unseen))
	return changed(d, words.T(t.ctx, "history.remarks"), typed(a.Remarks), typed(b.Remarks))
}

// answered are answers to the questions of the wider group.
func answered(answers []review.WiderAnswer) string {
	var told []string
	for _, a := range answers {
		told = append(told, a.Character+" "+a.State)
	}
	return strings.Join(told, ", ")
}

// notSeen are characters that could not be stated, with the reason.
func (t *teller) notSeen(unseen []review.Unseen) string {
	var told []string
	for _, u := range unseen {
		told = append(told, t.book.Character(u.Character)+": "+unseenWords(t.ctx, u.Why))
	}
	return strings.Join(told, "; ")
}

func some(n int) string {
	if n == 0 {
		return ""
	}
	return itoa(n)
}

func written(ctx context.Context, d review.Determination) string {
	if d.Family == "" {
		return ""
	}
	text := determinationName(ctx, d)
	if d.ScientificName != "" {
		text += ", " + typed(d.NameAt(review.RankSpecies))
	}
	return text
}

func determined(ctx context.Context, names map[string]string, d review.Determination) string {
	if d.Determiner == "" {
		return ""
	}
	if n, ok := names[d.Determiner]; ok {
		return typed(n) + ", " + slipDate(ctx, d.DeterminedOn)
	}
	return slipDate(ctx, d.DeterminedOn)
}

package review

import (
	"fmt"
	"slices"
	"strings"
	"time"

	"revidit/review/diagnosis"
)

// Moment is who acts when, and where new ids come from.
type Moment struct {
	Actor Actor
	Now   time.Time
	NewID func() string
}

// decision is what an act changes: of the submission, and of its specimen.
type decision struct {
	submission []Change
	specimen   []Change
}

// ReviewForm is what a reviewer saves in one sitting: verdicts on some observations, perhaps an opinion on the name.
type ReviewForm struct {
	Verdicts []VerdictForm `json:"verdicts" required:"false"`
	Opinion  *OpinionForm  `json:"opinion,omitempty"`
}

// VerdictForm is a verdict on one observation.
type VerdictForm struct {
	Observation string      `json:"observation" maxLength:"60"`
	Kind        VerdictKind `json:"kind" enum:"confirm,dispute,not-visible,part-missing,cannot-judge"`
	Better      string      `json:"better,omitempty" maxLength:"60" doc:"State that a dispute gives instead; empty: only not this one"`
	Note        string      `json:"note,omitempty" maxLength:"2000"`
}

// OpinionForm is an opinion on the name.
type OpinionForm struct {
	Kind   OpinionKind `json:"kind" enum:"agrees,another,left-open"`
	Family string      `json:"family,omitempty" maxLength:"60" doc:"Where another family is given"`
	Basis  Basis       `json:"basis" enum:"specimen,photos,dissected"`
	Note   string      `json:"note,omitempty" maxLength:"2000"`
}

// ReplyForm is a written reason why a contradiction does not stand against the name.
type ReplyForm struct {
	Kind      ContradictionKind `json:"kind" enum:"excluded,unusual,combination,incompatible,unseen,better-fit"`
	Character string            `json:"character" maxLength:"60"`
	State     string            `json:"state" maxLength:"60"`
	Reason    string            `json:"reason" minLength:"1" maxLength:"2000"`
}

// ReturnForm asks the owner for something.
type ReturnForm struct {
	Want Want   `json:"want" enum:"photo,specimen,preparation"`
	View string `json:"view,omitempty" maxLength:"40" doc:"Where a photo is wanted: its view"`
	Text string `json:"text" minLength:"1" maxLength:"2000" doc:"What is wanted and why"`
}

// AnswerForm is the owner's answer.
type AnswerForm struct {
	Text         string            `json:"text,omitempty" maxLength:"2000"`
	Photos       []PhotoForm       `json:"photos,omitempty"`
	Observations []ObservationForm `json:"observations,omitempty"`
	// Withdraw are ids of one's own observations that were mistaken.
	Withdraw   []string `json:"withdraw,omitempty"`
	SentOn     string   `json:"sent_on,omitempty" maxLength:"10" doc:"Day on which the specimen was sent"`
	ReceivedOn string   `json:"received_on,omitempty" maxLength:"10" doc:"Day on which it was received"`
}

// RedetermineForm begins a new determination of the same specimen.
type RedetermineForm struct {
	Family         string `json:"family" maxLength:"60"`
	ScientificName string `json:"scientific_name,omitempty" maxLength:"120"`
	Qualifier      string `json:"qualifier,omitempty" enum:",?,cf.,aff."`
	Reason         string `json:"reason" minLength:"1" maxLength:"2000"`
}

func decideHold(m Moment, s *Submission, p Policy) (decision, error) {
	if _, err := Transition(m.Actor, ActHold, s); err != nil {
		return decision{}, err
	}
	if err := notHeldByOther(m, s); err != nil {
		return decision{}, err
	}
	until := m.Now.Add(time.Duration(p.HoldMinutes) * time.Minute)
	return decision{submission: []Change{&Held{Until: until}}}, nil
}

func decideRelease(m Moment, s *Submission) (decision, error) {
	if _, err := Transition(m.Actor, ActRelease, s); err != nil {
		return decision{}, err
	}
	if s.Hold == nil || s.Hold.By != m.Actor.Person {
		return decision{}, Errorf(KindConflict, "You do not hold this submission, so there is nothing to release.")
	}
	return decision{submission: []Change{&Released{}}}, nil
}

func notHeldByOther(m Moment, s *Submission) error {
	if !s.HeldByOther(m.Actor.Person, m.Now) {
		return nil
	}
	return Errorf(KindConflict, "Another reviewer holds this submission until %s. Nothing was stored: send it again then.",
		s.Hold.Until.Format("15:04 MST"))
}

func decideReview(m Moment, s *Submission, spec *Specimen, form ReviewForm, judge *Judge) (decision, error) {
	if _, err := Transition(m.Actor, ActReview, s); err != nil {
		return decision{}, err
	}
	if m.Actor.Person == s.Determination.Determiner {
		return decision{}, Errorf(KindForbidden, "This determination is your own: nobody reviews a determination of their own.")
	}
	if err := notHeldByOther(m, s); err != nil {
		return decision{}, err
	}
	verdicts, problems := form.verdicts(m, s, spec, judge)
	opinion := form.opinion(m, s, judge.Tables(), &problems)
	if len(problems) == 0 && len(verdicts) == 0 && opinion == nil {
		problems.Addf("verdicts", "say something about at least one character, or about the name")
	}
	if err := problems.Err(); err != nil {
		return decision{}, err
	}
	var d decision
	if len(verdicts) > 0 {
		d.submission = append(d.submission, &VerdictsGiven{Verdicts: verdicts})
	}
	if opinion != nil {
		d.submission = append(d.submission, &OpinionGiven{Opinion: *opinion})
	}
	if s.Hold != nil && s.Hold.By == m.Actor.Person {
		d.submission = append(d.submission, &Released{})
	}
	return d, nil
}

func (f ReviewForm) verdicts(m Moment, s *Submission, spec *Specimen, judge *Judge) ([]Verdict, Problems) {
	var problems Problems
	made := []Verdict{}
	seen := map[string]bool{}
	for i, v := range f.Verdicts {
		field := fmt.Sprintf("verdicts[%d]", i)
		observation, known := spec.Observation(v.Observation)
		if !known || !slices.Contains(s.Cites, v.Observation) || observation.Withdrawn != "" {
			problems.Addf(field+".observation", "is not an observation of this submission")
			continue
		}
		if seen[v.Observation] {
			problems.Addf(field+".observation", "has two verdicts; keep one")
		}
		seen[v.Observation] = true
		checkVerdict(&problems, field, v, observation, judge)
		made = append(made, Verdict{Observation: v.Observation, Kind: v.Kind, Better: v.Better, Note: strings.TrimSpace(v.Note),
			By: m.Actor.Person, Role: m.Actor.Role, At: m.Now})
	}
	return made, problems
}

func checkVerdict(p *Problems, field string, v VerdictForm, o Observation, judge *Judge) {
	if !slices.Contains(VerdictKinds, v.Kind) {
		p.Addf(field+".kind", "must be confirm, dispute, not-visible, part-missing or cannot-judge")
	}
	checkText(p, field+".note", v.Note, 0, maxNote)
	if v.Better == "" {
		return
	}
	if v.Kind != VerdictDispute {
		p.Addf(field+".better", "only a dispute names a better state")
		return
	}
	if v.Better == o.State {
		p.Addf(field+".better", "is the state that was stated; confirm it, or name another")
		return
	}
	if err := judge.CheckState(o.Character, v.Better); err != nil {
		p.Addf(field+".better", "%s", err)
	}
}

func (f ReviewForm) opinion(m Moment, s *Submission, tables *diagnosis.Tables, p *Problems) *Opinion {
	if f.Opinion == nil {
		return nil
	}
	o := *f.Opinion
	made := Opinion{Kind: o.Kind, Basis: o.Basis, Note: strings.TrimSpace(o.Note), By: m.Actor.Person, At: m.Now}
	switch o.Kind {
	case OpinionAgrees, OpinionLeftOpen:
		if o.Family != "" {
			p.Addf("opinion.family", "only where you give another name")
		}
	case OpinionAnother:
		made.Family = checkOtherFamily(p, "opinion.family", o.Family, s, tables)
	default:
		p.Addf("opinion.kind", "must be agrees, another or left-open")
	}
	switch o.Basis {
	case BasisSpecimen, BasisPhotos, BasisDissected:
	default:
		p.Addf("opinion.basis", "say what it rests on: specimen, photos or dissected")
	}
	checkText(p, "opinion.note", o.Note, 0, maxNote)
	return &made
}

// checkOtherFamily returns the accepted name of a family that differs from the proposed one.
func checkOtherFamily(p *Problems, field, name string, s *Submission, tables *diagnosis.Tables) string {
	family, _, ok := tables.Resolve(name)
	if !ok {
		p.Addf(field, "%q is not a family of these tables, nor an old name of one", name)
		return ""
	}
	if family.Name == s.Determination.Family {
		p.Addf(field, "%s is the name that was proposed", family.Name)
	}
	return family.Name
}

func decideReply(m Moment, s *Submission, form ReplyForm) (decision, error) {
	if _, err := Transition(m.Actor, ActReply, s); err != nil {
		return decision{}, err
	}
	if err := notHeldByOther(m, s); err != nil {
		return decision{}, err
	}
	var p Problems
	checkText(&p, "reason", form.Reason, 1, maxNote)
	if !s.contradicted(form) {
		p.Addf("character", "no such contradiction stands against this submission")
	}
	if err := p.Err(); err != nil {
		return decision{}, err
	}
	reply := Reply{Kind: form.Kind, Character: form.Character, State: form.State, Reason: strings.TrimSpace(form.Reason),
		By: m.Actor.Person, At: m.Now}
	return decision{submission: []Change{&Replied{Reply: reply}}}, nil
}

func (s *Submission) contradicted(form ReplyForm) bool {
	if s.Assessment == nil {
		return false
	}
	return slices.ContainsFunc(s.Assessment.Contradictions, func(c Contradiction) bool {
		return c.Kind == form.Kind && c.Character == form.Character && c.State == form.State
	})
}

func decideReturn(m Moment, s *Submission, form ReturnForm, tables *diagnosis.Tables) (decision, error) {
	if _, err := Transition(m.Actor, ActReturn, s); err != nil {
		return decision{}, err
	}
	if err := notHeldByOther(m, s); err != nil {
		return decision{}, err
	}
	var p Problems
	checkText(&p, "text", form.Text, 1, maxNote)
	switch form.Want {
	case WantPhoto:
		checkView(&p, "view", form.View, tables)
	case WantSpecimen, WantPreparation:
		if form.View != "" {
			p.Addf("view", "only where a photo is wanted")
		}
	default:
		p.Addf("want", "must be photo, specimen or preparation")
	}
	if err := p.Err(); err != nil {
		return decision{}, err
	}
	r := Return{ID: m.NewID(), Want: form.Want, View: form.View, Text: strings.TrimSpace(form.Text), By: m.Actor.Person,
		At: m.Now, Answers: []Answer{}}
	return decision{submission: []Change{&Returned{Return: r}}}, nil
}

func decideAnswer(m Moment, s *Submission, spec *Specimen, form AnswerForm, uploads []Upload, judge *Judge) (decision, error) {
	if _, err := Transition(m.Actor, ActAnswer, s); err != nil {
		return decision{}, err
	}
	if err := form.check(m, s, spec, judge).Err(); err != nil {
		return decision{}, err
	}
	photos := photosOf(uploads, form.Photos)
	recorded := observations(form.Observations, m)
	answer := Answer{Text: strings.TrimSpace(form.Text), Withdrawn: form.Withdraw, SentOn: form.SentOn,
		ReceivedOn: form.ReceivedOn, By: m.Actor.Person, At: m.Now}
	var d decision
	if len(photos) > 0 {
		d.specimen = append(d.specimen, &PhotosAdded{Photos: photos})
		answer.Photos = photoIDs(photos)
	}
	if len(recorded) > 0 {
		d.specimen = append(d.specimen, &ObservationsRecorded{Observations: recorded})
		answer.Observations = observationIDs(recorded)
	}
	for _, id := range form.Withdraw {
		d.specimen = append(d.specimen, &ObservationWithdrawn{Observation: id, Reason: answerReason(answer.Text)})
	}
	d.submission = []Change{&Answered{Answer: answer}}
	return d, nil
}

func answerReason(text string) string {
	if text == "" {
		return "taken back by its observer"
	}
	return text
}

func (f AnswerForm) check(m Moment, s *Submission, spec *Specimen, judge *Judge) Problems {
	var p Problems
	checkText(&p, "text", f.Text, 0, maxNote)
	asDraft := SubmissionForm{Photos: f.Photos}
	asDraft.checkPhotos(&p, judge.Tables())
	if len(s.Photos)+len(f.Photos) > maxPhotos {
		p.Addf("photos", "at most %d photos on a submission; it has %d already", maxPhotos, len(s.Photos))
	}
	known := asDraft.photoIDs()
	for _, id := range s.Photos {
		known[id] = true
	}
	checkObservations(&p, judge, f.Observations, known)
	if len(s.Cites)+len(f.Observations) > maxObservations {
		p.Addf("observations", "at most %d observations on a submission; it has %d already", maxObservations, len(s.Cites))
	}
	f.checkWithdraw(&p, m, s, spec)
	f.checkRepeated(&p, m, s, spec)
	checkDate(&p, "sent_on", f.SentOn)
	checkDate(&p, "received_on", f.ReceivedOn)
	if f.Text == "" && len(f.Photos)+len(f.Observations)+len(f.Withdraw) == 0 && f.SentOn == "" && f.ReceivedOn == "" {
		p.Addf("text", "write an answer, or add a photo or an observation")
	}
	return p
}

func (f AnswerForm) checkWithdraw(p *Problems, m Moment, s *Submission, spec *Specimen) {
	for i, id := range f.Withdraw {
		field := fmt.Sprintf("withdraw[%d]", i)
		o, ok := spec.Observation(id)
		if !ok || o.Withdrawn != "" || !slices.Contains(s.Cites, id) || slices.Contains(f.Withdraw[:i], id) {
			p.Addf(field, "is not a standing observation of this submission")
			continue
		}
		if o.By != m.Actor.Person {
			p.Addf(field, "is not your own observation; only its observer takes it back")
		}
	}
}

// checkRepeated refuses a second standing observation by the same person on the same character: one glance is no two
// proofs.
func (f AnswerForm) checkRepeated(p *Problems, m Moment, s *Submission, spec *Specimen) {
	for i, form := range f.Observations {
		for _, o := range spec.Observations {
			standing := o.Withdrawn == "" && slices.Contains(s.Cites, o.ID) && !slices.Contains(f.Withdraw, o.ID)
			if standing && o.Character == form.Character && o.By == m.Actor.Person {
				p.Addf(fmt.Sprintf("observations[%d].character", i), "you have stated %s already; take that one back as well", form.Character)
			}
		}
	}
}

func decideSettle(m Moment, s *Submission, p Policy, reason string) (decision, error) {
	if _, err := Transition(m.Actor, ActSettle, s); err != nil {
		return decision{}, err
	}
	if !p.Expert(s.Determination.Family, m.Actor.Person) {
		return decision{}, Errorf(KindForbidden, "Only a reviewer whom the policy names for %s may settle it on authority. Nothing was changed; give your verdicts and opinion instead.", s.Determination.Family)
	}
	if m.Actor.Person == s.Determination.Determiner {
		return decision{}, Errorf(KindForbidden, "This determination is your own: nobody settles a determination of their own.")
	}
	if err := notHeldByOther(m, s); err != nil {
		return decision{}, err
	}
	var problems Problems
	checkText(&problems, "reason", reason, 1, maxNote)
	if err := problems.Err(); err != nil {
		return decision{}, err
	}
	settlement := s.settlement(m, p)
	settlement.OnAuthority, settlement.Reason = true, strings.TrimSpace(reason)
	return decision{submission: []Change{&Confirmed{Settlement: settlement}}}, nil
}

func (s *Submission) settlement(m Moment, p Policy) Settlement {
	made := Settlement{Agreeing: nonNil(s.Agreeing()), Policy: p.Version, By: m.Actor.Person, At: m.Now}
	if s.Assessment != nil {
		made.Confidence = s.Assessment.Confidence
	}
	return made
}

func decideUndetermine(m Moment, s *Submission, reason string) (decision, error) {
	return decideClosing(m, s, ActUndetermine, reason, &Undetermined{Reason: strings.TrimSpace(reason)})
}

func decideWithdraw(m Moment, s *Submission, reason string) (decision, error) {
	return decideClosing(m, s, ActWithdraw, reason, &Withdrawn{Reason: strings.TrimSpace(reason)})
}

func decideReopen(m Moment, s *Submission, reason string) (decision, error) {
	if s.OpenedAt == nil && s.Status == StatusWithdrawn {
		return decision{}, Errorf(KindConflict, "This was withdrawn as a draft and never submitted; its owner can submit it anew.")
	}
	return decideClosing(m, s, ActReopen, reason, &Reopened{Reason: strings.TrimSpace(reason)})
}

// decideClosing is an act that needs nothing but a reason.
func decideClosing(m Moment, s *Submission, action Action, reason string, change Change) (decision, error) {
	if _, err := Transition(m.Actor, action, s); err != nil {
		return decision{}, err
	}
	if action == ActUndetermine {
		if err := notHeldByOther(m, s); err != nil {
			return decision{}, err
		}
	}
	var p Problems
	checkText(&p, "reason", reason, 1, maxNote)
	if err := p.Err(); err != nil {
		return decision{}, err
	}
	return decision{submission: []Change{change}}, nil
}

func fieldOf(list string, i int) string { return fmt.Sprintf("%s[%d]", list, i) }

func photosOf(uploads []Upload, forms []PhotoForm) []Photo {
	made := []Photo{}
	for i, u := range uploads {
		photo := u.Photo
		photo.View = forms[i].View
		made = append(made, photo)
	}
	return made
}

func photoIDs(photos []Photo) []string {
	var ids []string
	for _, p := range photos {
		ids = append(ids, p.ID)
	}
	return ids
}

func observationIDs(observations []Observation) []string {
	var ids []string
	for _, o := range observations {
		ids = append(ids, o.ID)
	}
	return ids
}

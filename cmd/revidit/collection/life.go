package collection

import (
	"context"
	"slices"

	"revidit/cmd/revidit/simulator/nature"
	"revidit/review"
	"revidit/review/judgement"
	"revidit/review/service"
)

// mostLooks is after how many looks reviewers close what does not settle: so that a submission has about ten events.
const mostLooks = 1

// life is a submission on its way.
type life struct {
	*club
	specimen int // of the world
	id       string
	looks    int
	last     review.Actor // who looked last, and so sees what others said
}

func (l *life) lead(ctx context.Context, goes course) error {
	switch goes {
	case unseen:
		return nil
	case begun:
		_, err := l.look(ctx)
		return err
	case sentBack:
		return l.sendBack(ctx)
	case answered:
		return inOrder(ctx, l.sendBack, l.answer)
	case takenBack:
		l.wait(3)
		_, err := l.service.Withdraw(ctx, l.owner(), l.id, service.AnyVersion, "submitted twice by mistake")
		return err
	case drawnAgain:
		return inOrder(ctx, l.close, l.sit)
	case rechecked:
		return inOrder(ctx, l.close, l.sit, l.sit, l.sit)
	}
	if l.dice.IntN(12) == 0 {
		if err := inOrder(ctx, l.sendBack, l.answer); err != nil {
			return err
		}
	}
	return l.close(ctx)
}

// inOrder stops at the first step that fails.
func inOrder(ctx context.Context, steps ...func(context.Context) error) error {
	for _, step := range steps {
		if err := step(ctx); err != nil {
			return err
		}
	}
	return nil
}

func (l *life) owner() review.Actor { return l.actor(l.world.Specimens[l.specimen].Owner) }

// reviewer is who looks next: somebody else each time.
func (l *life) reviewer() (int, review.Actor) {
	reviewers := []int{}
	for i := range l.world.People {
		if l.world.People[i].Reviewer {
			reviewers = append(reviewers, i)
		}
	}
	person := reviewers[(l.specimen+l.looks)%len(reviewers)]
	l.looks++
	l.last = l.actor(person)
	return person, l.last
}

// look is one reviewer's: blind where that is drawn, then verdicts and an opinion.
func (l *life) look(ctx context.Context) (review.Submission, error) {
	l.wait(6)
	person, actor := l.reviewer()
	if err := l.blind(ctx, person, actor); err != nil {
		return review.Submission{}, err
	}
	view, err := l.service.View(ctx, actor, l.id)
	if err != nil {
		return review.Submission{}, err
	}
	form := review.ReviewForm{Opinion: &review.OpinionForm{Kind: review.OpinionAgrees, Basis: review.BasisPhotos}}
	for _, o := range view.Specimen.Observations {
		if o.Withdrawn == "" {
			form.Verdicts = append(form.Verdicts, l.verdict(person, o))
		}
	}
	switch name := l.world.Name(l.specimen, person); name {
	case view.Submission.Determination.Family:
	case nature.NoListedFamily:
		form.Opinion.Kind = review.OpinionLeftOpen
	default:
		form.Opinion.Kind, form.Opinion.Family = review.OpinionAnother, name
	}
	done, err := l.service.Review(ctx, actor, l.id, service.AnyVersion, form)
	return done.Submission, err
}

func (l *life) verdict(person int, o review.Observation) review.VerdictForm {
	form := review.VerdictForm{Observation: o.ID, Kind: review.VerdictConfirm}
	if answer := l.world.Verdict(l.specimen, person, l.judge.Tables().CharacterIndex(o.Character), o.State); !answer.Confirms {
		form.Kind, form.Better, form.Note = review.VerdictDispute, answer.Better, "look again at the marked place"
	}
	return form
}

// blind answers what a reviewer is drawn to look at blind.
func (l *life) blind(ctx context.Context, person int, actor review.Actor) error {
	asked, err := l.service.BlindLook(ctx, actor, l.id)
	if review.KindOf(err) == review.KindConflict { // is not drawn
		return nil
	}
	if err != nil {
		return err
	}
	state := l.world.Reading(l.specimen, person, l.judge.Tables().CharacterIndex(asked.Character))
	_, err = l.service.BlindCheck(ctx, actor, l.id, asked.Version, review.BlindForm{State: state})
	return err
}

// close lets reviewers look until the case is closed: settled, settled on authority, determined anew or given up.
func (l *life) close(ctx context.Context) error {
	for range mostLooks {
		s, err := l.look(ctx)
		if err != nil {
			return err
		}
		if s.Status == review.StatusOpen {
			s, err = l.reply(ctx, s)
		}
		if err != nil || s.Status != review.StatusOpen {
			return err
		}
		top := s.Assessment.Ranking[0]
		if top.Family != s.Determination.Family && top.Family != judgement.NoneOfThese && top.P > 0.9 {
			return l.determineAnew(ctx, top.Family)
		}
	}
	l.wait(6)
	_, err := l.service.Undetermine(ctx, l.curator(), l.id, service.AnyVersion, "the characters do not carry the name")
	return err
}

// reply answers what stands against a name that the characters carry.
func (l *life) reply(ctx context.Context, s review.Submission) (review.Submission, error) {
	policy, err := l.service.Policy(ctx)
	if err != nil || s.Assessment.Confidence < policy.Confidence {
		return s, err
	}
	for _, f := range policy.Unanswered(&s) {
		form := review.ReplyForm{Kind: f.Kind, Character: f.Character, State: f.State, Reason: "misread: everything else speaks for the name"}
		done, err := l.service.Reply(ctx, l.last, l.id, service.AnyVersion, form)
		if s = done.Submission; err != nil || s.Status != review.StatusOpen {
			return s, err
		}
	}
	return s, nil
}

// determineAnew begins another determination, and closes that.
func (l *life) determineAnew(ctx context.Context, family string) error {
	l.wait(3)
	s, err := l.service.Redetermine(ctx, l.curator(), l.id, service.AnyVersion, review.RedetermineForm{Family: family, Reason: "the characters fit it better"})
	if err != nil {
		return err
	}
	next := &life{club: l.club, specimen: l.specimen, id: s.ID, looks: l.looks}
	for range mostLooks {
		s, err := next.look(ctx)
		if err != nil || s.Status != review.StatusOpen {
			return err
		}
	}
	person, actor := next.reviewer() // the curator has named it
	if err := next.blind(ctx, person, actor); err != nil {
		return err
	}
	_, err = l.service.Undetermine(ctx, actor, next.id, service.AnyVersion, "it could be either")
	return err
}

func (l *life) sendBack(ctx context.Context) error {
	l.wait(6)
	person, actor := l.reviewer()
	if err := l.blind(ctx, person, actor); err != nil {
		return err
	}
	_, err := l.service.Return(ctx, actor, l.id, service.AnyVersion, review.ReturnForm{Want: review.WantPhoto, View: l.judge.Tables().Group.Views[0].ID, Text: "Sharper, please."})
	return err
}

func (l *life) answer(ctx context.Context) error {
	l.wait(6)
	photo, err := l.upload(ctx, l.owner())
	if err != nil {
		return err
	}
	_, err = l.service.Answer(ctx, l.owner(), l.id, service.AnyVersion, review.AnswerForm{Text: "Here it is.", Photos: []review.PhotoForm{{Photo: photo, View: l.judge.Tables().Group.Views[0].ID}}})
	return err
}

// sit lets one person of a panel look again at a closed determination. What was determined anew is closed in another
// submission, and not looked at again.
func (l *life) sit(ctx context.Context) error {
	l.wait(10)
	person, actor := l.reviewer()
	s, err := l.db.Submission(ctx, l.id)
	if err != nil || !s.RecheckOpen() || slices.Contains(s.KnownTo(), actor.Person) {
		return err
	}
	name := l.world.PanelName(l.specimen, person)
	if name == nature.NoListedFamily {
		name = judgement.NoneOfThese
	}
	_, err = l.service.PanelOpinion(ctx, actor, l.id, service.AnyVersion, review.PanelForm{Family: name})
	return err
}

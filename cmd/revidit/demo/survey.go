package demo

import (
	"context"
	"crypto/sha256"
	"encoding/binary"
	"strings"

	"revidit/review"
	"revidit/review/diagnosis"
	"revidit/review/service"
)

// surveyed is the course of specimens without a story of their own: enough of them, with people who err now and then, for
// the figures of agreement, calibration and reliability to show something.
const surveyed course = "was looked over in the survey of the old drawers"

// old are the families and genera of the survey, with a body length in millimetres: from memory, no source.
var old = []struct{ family, genus, mm string }{
	{"Carabidae", "Pterostichus", "14"}, {"Carabidae", "Harpalus", "10"}, {"Carabidae", "Calathus", "11"}, {"Dytiscidae", "Ilybius", "11"},
	{"Dytiscidae", "Colymbetes", "17"}, {"Gyrinidae", "Orectochilus", "6"}, {"Hydrophilidae", "Helochares", "6"}, {"Histeridae", "Hister", "7"},
	{"Staphylinidae", "Ocypus", "20"}, {"Staphylinidae", "Quedius", "10"}, {"Lucanidae", "Sinodendron", "14"}, {"Geotrupidae", "Trypocopris", "15"},
	{"Scarabaeidae", "Onthophagus", "8"}, {"Scarabaeidae", "Melolontha", "26"}, {"Buprestidae", "Anthaxia", "6"}, {"Buprestidae", "Chrysobothris", "12"},
	{"Elateridae", "Ampedus", "10"}, {"Elateridae", "Selatosomus", "14"}, {"Elateridae", "Agrypnus", "14"}, {"Lycidae", "Lygistopterus", "10"},
	{"Lampyridae", "Lampyris", "11"}, {"Cantharidae", "Cantharis", "12"}, {"Cantharidae", "Podabrus", "12"}, {"Dermestidae", "Attagenus", "5"},
	{"Ptinidae", "Stegobium", "3"}, {"Cleridae", "Trichodes", "12"}, {"Melyridae", "Dasytes", "5"}, {"Nitidulidae", "Meligethes", "2.5"},
	{"Erotylidae", "Dacne", "3"}, {"Coccinellidae", "Adalia", "4.5"}, {"Coccinellidae", "Anatis", "9"}, {"Tenebrionidae", "Blaps", "22"},
	{"Tenebrionidae", "Opatrum", "8"}, {"Meloidae", "Meloe", "20"}, {"Mordellidae", "Variimorda", "6"}, {"Cerambycidae", "Rutpela", "17"},
	{"Cerambycidae", "Agapanthia", "16"}, {"Cerambycidae", "Prionus", "32"}, {"Chrysomelidae", "Chrysomela", "11"}, {"Chrysomelidae", "Cassida", "7"},
	{"Curculionidae", "Phyllobius", "6"}, {"Curculionidae", "Liparus", "16"}, {"Curculionidae", "Hylobius", "12"}, {"Trogidae", "Trox", "9"},
	{"Elateridae", "Ampedus", "11"}, {"Tenebrionidae", "Opatrum", "8"}, {"Carabidae", "Poecilus", "12"}, {"Curculionidae", "Otiorhynchus", "10"},
	{"Elateridae", "Athous", "13"}, {"Carabidae", "Harpalus", "11"},
}

// survey are its specimens: two a day, by the members in turn.
func survey() []specimen {
	members := []string{"ida", "bram", "mirela", "tove"}
	places := []string{"sike", "down", "hall", "wood"}
	var list []specimen
	for i, o := range old {
		list = append(list, specimen{family: o.family, genus: o.genus, mm: o.mm, trip: places[i%len(places)], drawer: "S" + string(rune('1'+i%6)),
			by: members[i%len(members)], days: firstDay - 1 - i/2, then: surveyed})
	}
	return list
}

// dice is chance that falls the same way in every demo, 0 to below 1.
func dice(parts ...string) float64 {
	sum := sha256.Sum256([]byte(strings.Join(parts, "/")))
	return float64(binary.BigEndian.Uint64(sum[:8])>>11) / (1 << 53)
}

// How often people of the survey err: invented, each with a region of the body that comes less easily.
var slips = map[string]struct {
	usual float64
	weak  string // region
	there float64
}{
	"henrike": {0.02, "tarsi", 0.06}, "jonas": {0.03, "antenna", 0.12}, "sabine": {0.05, "elytra", 0.12},
}

// memberSlips is how often a member states something wrong: usually, and of a specimen that was done in haste, as each third one was.
// surveyAnchoring is how often a reviewer of the survey confirms without looking. Invented.
const (
	memberSlips     = 0.05
	hastySlips      = 0.45
	hasty           = 1.0 / 3
	surveyAnchoring = 0.05
)

// mistaken is what a state is taken for: what people mix it up with, else the next one.
func mistaken(c *diagnosis.Character, state string) string {
	for _, pair := range c.Confused {
		switch state {
		case pair.States[0]:
			return pair.States[1]
		case pair.States[1]:
			return pair.States[0]
		}
	}
	if i := c.State(state); i > 0 {
		return c.States[i-1].ID
	}
	return c.States[min(1, len(c.States)-1)].ID
}

// misreadSome decides what the member gets wrong.
func (p *plan) misreadSome(tables *diagnosis.Tables) {
	p.misread = map[string]string{}
	slips := memberSlips
	if dice("hasty", p.number) < hasty {
		slips = hastySlips
	}
	for _, id := range p.stated {
		c, ok := tables.Character(id)
		if ok && c.Kind != diagnosis.KindLength && dice("states", p.number, id) < slips {
			p.misread[id] = mistaken(c, p.is[id])
		}
	}
}

// reading is what a reviewer sees of a character when looking.
func (a *act) reading(ctx context.Context, by, character string) (string, error) {
	judge, err := a.club.Service.Judge(ctx, "")
	if err != nil {
		return "", err
	}
	truth := a.plan.is[character]
	c, ok := judge.Tables().Character(character)
	if !ok {
		return truth, nil
	}
	slip := slips[by].usual
	if c.Region == slips[by].weak {
		slip = slips[by].there
	}
	if dice("reads", by, a.plan.number, character) < slip {
		return mistaken(c, truth), nil
	}
	return truth, nil
}

// lookOver is a reviewer of the survey at work, who agrees with the name: nothing else is asked for.
func lookOver(by string) step {
	return func(a *act, ctx context.Context) error {
		if err := a.lookBlind(ctx, by); err != nil {
			return err
		}
		view, err := a.club.Service.View(ctx, a.actors[by], a.id)
		if err != nil || view.Submission.Status != review.StatusOpen {
			return err
		}
		form := review.ReviewForm{Opinion: &review.OpinionForm{Kind: review.OpinionAgrees, Basis: review.BasisPhotos}}
		for _, o := range view.Specimen.Observations {
			v, err := a.surveyVerdict(ctx, by, o)
			if err != nil {
				return err
			}
			form.Verdicts = append(form.Verdicts, v)
		}
		_, err = a.club.Service.Review(ctx, a.actors[by], a.id, service.AnyVersion, form)
		return err
	}
}

func (a *act) surveyVerdict(ctx context.Context, by string, o review.Observation) (review.VerdictForm, error) {
	v := review.VerdictForm{Observation: o.ID, Kind: review.VerdictConfirm}
	if o.Character == "body-length-mm" {
		v.Kind = review.VerdictCannotJudge
		return v, nil
	}
	if dice("looks", by, a.plan.number, o.Character) < surveyAnchoring {
		return v, nil
	}
	seen, err := a.reading(ctx, by, o.Character)
	if seen != o.State {
		v.Kind, v.Better = review.VerdictDispute, seen
	}
	return v, err
}

// lookBlind answers the question that a reviewer is drawn for, where there is one.
func (a *act) lookBlind(ctx context.Context, by string) error {
	look, err := a.club.Service.BlindLook(ctx, a.actors[by], a.id)
	if review.KindOf(err) == review.KindConflict || err == nil && look.Recheck {
		return nil // is not drawn
	}
	if err != nil {
		return err
	}
	seen, err := a.reading(ctx, by, look.Character)
	if err != nil {
		return err
	}
	_, err = a.club.Service.BlindCheck(ctx, a.actors[by], a.id, look.Version, review.BlindForm{State: seen})
	return err
}

// giveUp leaves undetermined what two reviewers could not settle.
func giveUp(by string) step {
	return func(a *act, ctx context.Context) error {
		if err := a.lookBlind(ctx, by); err != nil {
			return err
		}
		view, err := a.club.Service.View(ctx, a.actors[by], a.id)
		if review.KindOf(err) == review.KindBlind {
			return nil // closed, and before a panel
		}
		if err != nil || view.Submission.Status != review.StatusOpen {
			return err
		}
		_, err = a.club.Service.Undetermine(ctx, a.actors[by], a.id, service.AnyVersion, "What was seen does not carry the name far enough.")
		return err
	}
}

// panelists have had nothing to do with the rest of the scenario, so that they can look blind at what was closed.
var panelists = []string{"ruben", "wilma", "tamsin"}

// absent is how often the last of a panel has not looked yet. Invented.
const absent = 0.2

// panelSteps are the looks of a panel, for what happens to be drawn. What Henrike Amselworth has not seen waits for her.
func panelSteps(s specimen) []step {
	if s.then == asDraft {
		return nil
	}
	var steps []step
	for i, by := range panelists {
		if i < len(panelists)-1 || s.then != secondDesk && dice("absent", s.family, s.genus, s.mm) >= absent {
			steps = append(steps, onPanel(by))
		}
	}
	return steps
}

// onPanel gives an opinion where the submission is closed and was drawn.
func onPanel(by string) step {
	return func(a *act, ctx context.Context) error {
		look, err := a.club.Service.BlindLook(ctx, a.actors[by], a.id)
		switch {
		case review.KindOf(err) == review.KindConflict, review.KindOf(err) == review.KindBlind: // not drawn, or with its owner
			return nil
		case err != nil:
			return err
		case !look.Recheck:
			return nil
		}
		named, err := a.named(ctx, by)
		if err != nil {
			return err
		}
		_, err = a.club.Service.PanelOpinion(ctx, a.actors[by], a.id, look.Version, review.PanelForm{Family: named})
		return err
	}
}

// named is the family that a panelist sees: mostly the right one, now and then a look-alike, or none.
func (a *act) named(ctx context.Context, by string) (string, error) {
	judge, err := a.club.Service.Judge(ctx, "")
	if err != nil {
		return "", err
	}
	family, _ := judge.Tables().Family(a.specimen.family)
	switch d := dice("names", by, a.plan.number); {
	case d < 0.03:
		return "", nil
	case d < 0.08 && len(family.LookAlikes) > 0:
		return family.LookAlikes[0].Family, nil
	}
	return a.specimen.family, nil
}

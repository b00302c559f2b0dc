package demo

import (
	"context"
	"time"

	"revidit/review"
	"revidit/review/service"
)

// A beginner's first fifty with a mentor, half way through: most are answered, the last ones wait.
const (
	answeredByMentor course = "was answered by the mentor"
	withMentor       course = "waits for the mentor"
)

// beginner and mentor are whose series it is, by login.
const (
	beginner     = "finn"
	mentor       = "sabine"
	seriesBegins = 29 // days ago
)

// firstOnes are what the beginner submits, one a day. What he takes for another comes more than once: saw-like antennae for
// thread-like ones, and the number of plates.
var firstOnes = []specimen{
	{family: "Carabidae", genus: "Nebria", mm: "11"}, {family: "Elateridae", genus: "Agriotes", mm: "9", misread: map[string]string{"antenna-form": "filiform"}},
	{family: "Coccinellidae", genus: "Adalia", mm: "4.5"}, {family: "Scarabaeidae", genus: "Cetonia", mm: "18"},
	{family: "Cantharidae", proposed: "Lampyridae", mm: "11"}, {family: "Chrysomelidae", genus: "Chrysolina", mm: "8"},
	{family: "Elateridae", genus: "Athous", mm: "12", misread: map[string]string{"antenna-form": "filiform"}}, {family: "Staphylinidae", genus: "Philonthus", mm: "9"},
	{family: "Curculionidae", genus: "Otiorhynchus", mm: "9", misread: map[string]string{"ventrites": "6"}}, {family: "Cerambycidae", genus: "Leptura", mm: "15"},
	{family: "Geotrupidae", genus: "Anoplotrupes", mm: "16"}, {family: "Carabidae", genus: "Poecilus", mm: "12"},
	{family: "Curculionidae", genus: "Phyllobius", mm: "6", misread: map[string]string{"ventrites": "6"}}, {family: "Dytiscidae", genus: "Agabus", mm: "8"},
	{family: "Elateridae", genus: "Selatosomus", mm: "14", misread: map[string]string{"antenna-form": "filiform"}}, {family: "Tenebrionidae", genus: "Opatrum", mm: "8"},
	{family: "Lucanidae", genus: "Dorcus", mm: "22"}, {family: "Staphylinidae", genus: "Ocypus", mm: "20"}, {family: "Buprestidae", genus: "Anthaxia", mm: "6"},
	{family: "Histeridae", genus: "Hister", mm: "7"}, {family: "Cleridae", genus: "Trichodes", mm: "12"}, {family: "Cantharidae", genus: "Cantharis", mm: "12"},
	{family: "Meloidae", genus: "Meloe", mm: "20"}, {family: "Carabidae", genus: "Harpalus", mm: "10"}, {family: "Chrysomelidae", genus: "Cassida", mm: "7"},
}

// seriesWaits is how many of them wait.
const seriesWaits = 3

// series are the specimens of the series.
func series() []specimen {
	list := make([]specimen, len(firstOnes))
	for i, s := range firstOnes {
		s.by, s.trip, s.drawer, s.days, s.then = beginner, "down", "F1", seriesBegins-1-i, answeredByMentor
		if i >= len(firstOnes)-seriesWaits {
			s.then = withMentor
		}
		list[i] = s
	}
	return list
}

// seriesAgenda is how the series begins.
func (c Club) seriesAgenda(actors map[string]review.Actor, today time.Time) []appointment {
	begun := ""
	return []appointment{{today.AddDate(0, 0, -seriesBegins), func(ctx context.Context) error {
		s, err := c.Service.BeginSeries(ctx, actors[beginner])
		begun = s.ID
		return err
	}}, {today.AddDate(0, 0, -seriesBegins).Add(time.Hour), func(ctx context.Context) error {
		_, err := c.Service.MentorSeries(ctx, actors[mentor], begun, "")
		return err
	}}}
}

// mentorAnswers is the mentor at work: each character, then the name, then why what does not fit stands nevertheless.
func mentorAnswers(a *act, ctx context.Context) error {
	verdicts, err := a.verdicts(ctx, mentor)
	if err != nil {
		return err
	}
	opinion := &review.OpinionForm{Kind: review.OpinionAgrees, Basis: review.BasisPhotos}
	if a.specimen.proposed != "" {
		opinion = &review.OpinionForm{Kind: review.OpinionAnother, Family: a.specimen.family, Basis: review.BasisPhotos,
			Note: "Look at the head from above: it is free, not hidden under the pronotum."}
	}
	done, err := a.club.Service.Review(ctx, a.actors[mentor], a.id, service.AnyVersion, review.ReviewForm{Verdicts: verdicts, Opinion: opinion})
	if err != nil || done.Status != review.StatusOpen {
		return err
	}
	view, err := a.club.Service.View(ctx, a.actors[mentor], a.id)
	if err != nil {
		return err
	}
	for _, c := range view.Policy.Unanswered(&view.Submission) {
		reply := review.ReplyForm{Kind: c.Kind, Character: c.Character, State: c.State, Reason: "A slip of the eye: the marked place shows another state."}
		if _, err := a.club.Service.Reply(ctx, a.actors[mentor], a.id, service.AnyVersion, reply); err != nil {
			return err
		}
	}
	return nil
}

package service

import (
	"cmp"
	"context"
	"maps"
	"slices"
	"time"

	"revidit/review"
)

// SpecimenDossier is all that an actor may see of a specimen, to be read as one page.
type SpecimenDossier struct {
	SpecimenView
	// Submissions are those of Determinations, in the same order.
	Submissions []SubmissionView `json:"submissions" nullable:"false" doc:"Each determination with its characters, what was said of it and what does not fit, the oldest first"`
	History     []DossierEntry   `json:"history" nullable:"false" doc:"Of the specimen and all these submissions, in the order of the log"`
}

// DossierEntry is an event with what proves it.
type DossierEntry struct {
	HistoryEntry
	// SignedIn and SignedAt are left out where nothing was signed that covers it, or the actor may prove nothing.
	SignedIn int64      `json:"signed_in,omitempty" doc:"Number of events of the first checkpoint that covers it, for those who may prove events"`
	SignedAt *time.Time `json:"signed_at,omitempty"`
}

// Dossier returns a specimen with all that has become of it, as far as the actor may see it.
func (s *Service) Dossier(ctx context.Context, actor review.Actor, id string) (SpecimenDossier, error) {
	view, err := s.Specimen(ctx, actor, id)
	if err != nil {
		return SpecimenDossier{}, err
	}
	d := SpecimenDossier{SpecimenView: view, Submissions: []SubmissionView{}}
	var entries []HistoryEntry
	for _, line := range view.Determinations {
		sub, err := s.View(ctx, actor, line.Submission)
		if err != nil {
			return SpecimenDossier{}, err
		}
		history, err := s.HistoryOf(ctx, actor, line.Submission)
		if err != nil {
			return SpecimenDossier{}, err
		}
		d.Submissions, entries = append(d.Submissions, sub), append(entries, history.Entries...)
		maps.Copy(d.Names, sub.Names)
		maps.Copy(d.Names, history.Names)
	}
	d.History, err = s.withProof(ctx, actor, onceEach(entries))
	return d, err
}

// onceEach puts the histories of submissions of one specimen together, in the order of the log. What is closed in one of them
// stays closed.
func onceEach(entries []HistoryEntry) []HistoryEntry {
	type key struct {
		stream string
		seq    int
	}
	at := map[key]int{}
	var once []HistoryEntry
	for _, e := range entries {
		k := key{e.Stream, e.Seq}
		i, known := at[k]
		if !known {
			at[k] = len(once)
			once = append(once, e)
		} else if e.Hidden {
			once[i] = e
		}
	}
	slices.SortStableFunc(once, func(a, b HistoryEntry) int {
		if (a.Position == 0) != (b.Position == 0) { // what has none yet is the last
			return cmp.Compare(b.Position, a.Position)
		}
		return cmp.Or(cmp.Compare(a.Position, b.Position), cmp.Compare(a.At, b.At), cmp.Compare(a.Stream, b.Stream), cmp.Compare(a.Seq, b.Seq))
	})
	return once
}

// withProof adds to events, in order, which checkpoint was the first to cover each.
func (s *Service) withProof(ctx context.Context, actor review.Actor, entries []HistoryEntry) ([]DossierEntry, error) {
	proven := []DossierEntry{}
	var covers review.SignedCheckpoint
	signed := review.May(actor, review.ActProve, "")
	for _, e := range entries {
		entry := DossierEntry{HistoryEntry: e}
		if signed && e.Position > covers.Size {
			found, err := s.store.Checkpoints(ctx, e.Position-1, 1)
			if err != nil {
				return nil, err
			}
			if signed = len(found) > 0; signed {
				covers = found[0]
			}
		}
		if signed && e.Position > 0 {
			at := covers.At
			entry.SignedIn, entry.SignedAt = covers.Size, &at
		}
		proven = append(proven, entry)
	}
	return proven, nil
}

package service

import (
	"context"
	"slices"
	"time"

	"revidit/review"
	"revidit/review/judgement"
)

// Basis is everything that a decision about one specimen rests on, read in one snapshot.
type Basis struct {
	Specimen    review.Specimen
	Submissions []review.Submission // all of the specimen, the oldest first
	// Drafts are those of Asked.Person of the specimen, the oldest first.
	Drafts []review.Draft
	// Last is when anything was last stored of the specimen or of its submissions; zero where nothing is.
	Last   time.Time
	Policy review.Policy
	// Releases are the hashes of the releases in force, by group; a group that has published none is not in it.
	Releases map[string]string
	// People is what is known, by group, of those who have had to do with the specimen, and of Asked.Person: nobody else
	// is in it, and nothing of a snapshot but its version.
	People map[string]*review.Reliability
	// Opened is what Asked.Person has been shown of the specimen.
	Opened review.Opening
	// Series are those of the submissions, and the one of Asked.Person that runs, which has InSeries submissions.
	Series   []review.Series
	InSeries int
}

// Asked says of what a Basis is wanted: of a specimen, by its id or by that of one of its submissions or of a draft of Person,
// or of neither, for a specimen that is not registered yet. Of a draft of such a one there is no Specimen.
type Asked struct {
	Submission, Specimen string
	Person               string // who asks
}

// dossier is what a decision about one submission of the basis looks at. An empty id is a submission that is not there yet.
func (s *Service) dossier(ctx context.Context, actor review.Actor, b *Basis, submission, group string) (*review.Dossier, error) {
	now := &review.Dossier{Moment: s.moment(actor).NotBefore(b.Last), Submission: &review.Submission{}, Specimen: &b.Specimen, Siblings: b.known(),
		Policy: b.Policy, Seed: s.newSeed, Opened: b.Opened, Series: b.Series, InSeries: b.InSeries}
	for i := range b.Submissions {
		if b.Submissions[i].ID == submission {
			own := b.Submissions[i] // Siblings keeps it as it was
			now.Submission, group = &own, own.Group
		}
	}
	now.Named = b.named()
	for _, d := range b.Drafts {
		if d.ID == submission {
			now.Take(d, b.Specimen)
			group = d.Proposal.Group
		}
	}
	var err error
	if now.Judge, err = s.judgeIn(ctx, b, group); err != nil {
		return nil, err
	}
	group = now.Judge.Tables().Group.ID
	people, err := s.restored(ctx, *b.reliability(group))
	if err != nil {
		return nil, err
	}
	now.People = &people
	now.Rests = &review.Rests{Versions: map[string]int{}, Policy: b.Policy.Version, Group: group, Release: b.Releases[group]}
	if b.Specimen.ID != "" {
		now.Rests.Versions[b.Specimen.ID] = review.RecordVersion(&b.Specimen, b.Submissions)
	}
	return now, nil
}

// judgeIn is the judge in force for a group, as the basis has it. An empty group is the first one.
func (s *Service) judgeIn(ctx context.Context, b *Basis, group string) (*judgement.Judge, error) {
	if group == "" {
		group = s.library.First()
	}
	builtIn := s.library.BuiltIn(group)
	if builtIn == nil {
		return nil, review.Errorf(review.KindNotFound, "There is no group %q of tables.", group)
	}
	if hash := b.Releases[group]; hash != "" {
		return s.judgeOfHash(ctx, hash)
	}
	return builtIn, nil
}

// known are the submissions of the specimen with the drafts of who asks.
func (b *Basis) known() []review.Submission {
	all := slices.Clone(b.Submissions)
	for i := range b.Drafts {
		all = append(all, b.Drafts[i].Submission())
	}
	return oldestFirst(all)
}

// named are the determiners that drafts name by hand.
func (b *Basis) named() (persons []review.Person) {
	for _, d := range b.Drafts {
		if d.Named != nil {
			persons = append(persons, *d.Named)
		}
	}
	return persons
}

func (b *Basis) reliability(group string) *review.Reliability {
	if known := b.People[group]; known != nil {
		return known
	}
	nothing := review.NewReliability(group)
	return &nothing
}

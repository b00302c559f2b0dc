package audit

import (
	"cmp"
	"slices"

	"revidit/review"
)

// ReadIn is how somebody's statements about a region of the body stood when others looked.
type ReadIn struct {
	Region string `json:"region"`
	Looked int    `json:"looked"` // statements that somebody confirmed, or saw another state in place of
	Same   int    `json:"same"`   // of these, those in which nobody saw another
}

// ReadBy are the regions of which others looked at a person's statements, the best read first, then the most looked at. region is that
// of a character, empty where the tables do not know it.
func ReadBy(person string, closed []review.Closed, region func(character string) string) []ReadIn {
	read := []ReadIn{}
	for i := range closed {
		whole := closed[i].Whole()
		for _, o := range closed[i].Specimen.Observations {
			name := region(o.Character)
			if o.By != person || o.Withdrawn != "" || name == "" || !looked(&whole, o) {
				continue
			}
			at := slices.IndexFunc(read, func(r ReadIn) bool { return r.Region == name })
			if at < 0 {
				read, at = append(read, ReadIn{Region: name}), len(read)
			}
			read[at].Looked++
			if !disputed(&whole, o) && len(othersSaw(&whole, o)) == 0 {
				read[at].Same++
			}
		}
	}
	slices.SortStableFunc(read, func(a, b ReadIn) int {
		return cmp.Or(cmp.Compare(b.Same*a.Looked, a.Same*b.Looked), cmp.Compare(b.Looked, a.Looked), cmp.Compare(a.Region, b.Region))
	})
	return read
}

// looked says whether somebody else has said what they see in place of an observation, or that they see the same.
func looked(s *review.Submission, o review.Observation) bool {
	return slices.ContainsFunc(s.Verdicts, func(v review.Verdict) bool {
		return v.Observation == o.ID && v.By != o.By && (v.Kind == review.VerdictConfirm || v.Kind == review.VerdictDispute)
	}) || slices.ContainsFunc(s.Blind, func(b review.BlindCheck) bool { return b.Observation == o.ID && b.By != o.By && b.State != "" })
}

func disputed(s *review.Submission, o review.Observation) bool {
	return slices.ContainsFunc(s.Verdicts, func(v review.Verdict) bool {
		return v.Observation == o.ID && v.By != o.By && v.Kind == review.VerdictDispute
	})
}

package judgement

import (
	"slices"

	"revidit/review/confidence"
)

// fromAbove is the term of Audiovisual Core for views of the upper side.
const fromAbove = "dorsal"

// memberStates is how many characters a member states from photos of the upper side.
const memberStates = 8

// UpperSide is what a member sees who has photos of the upper side alone: the first characters that what to check next
// asks there, memberStates of them, while nothing is known yet.
func (j *Judge) UpperSide() []string {
	e := Evidence{Views: []string{}, Look: Look{Reader: Member, Accuracy: j.taken.Stated}}
	for _, v := range j.tables.Group.Views {
		if v.Orientation == fromAbove {
			e.Views = append(e.Views, v.ID)
		}
	}
	var ids []string
	for _, n := range j.Assess(e).Next {
		if n.Group == "" && !n.NeedsPhoto && len(ids) < memberStates {
			ids = append(ids, n.Character)
		}
	}
	return ids
}

// upperSide compares families as a member does who states UpperSide of a dead specimen.
func (j *Judge) upperSide() *pairing {
	p := &pairing{judge: j, looks: j.looking(Member, j.taken.Stated), drawn: map[int]*confidence.Specimens{}}
	ids := j.UpperSide()
	for i := range j.tables.Families {
		known := j.recorded(&j.tables.Families[i])
		for c := range known {
			known[c] = known[c] && slices.Contains(ids, j.tables.Characters[c].ID)
		}
		p.known = append(p.known, known)
	}
	return p
}

// estimate is the figure of a pair, whether or not it is above the line.
func (p *pairing) estimate(a, b int) confidence.Estimate {
	return p.looks.Expected(p.specimens(a), p.specimens(b), p.common(a, b), drawsPerFamily)
}

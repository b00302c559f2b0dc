package service

import (
	"cmp"
	"context"
	"slices"
	"time"

	"revidit/review"
)

// MostSettled is how many determinations a report on a period tells of, the latest: what fits into a printed booklet, and is read
// while somebody waits. Our own choice, no source.
const MostSettled = 2_000

// SettledBy is what determinations of a period are grouped by.
type SettledBy string

const (
	ByPerson SettledBy = "person" // who determined
	ByFamily SettledBy = "family"
	ByDrawer SettledBy = "drawer" // storage place
)

// AllSettledBy are all of them, in the order in which they are offered.
var AllSettledBy = []SettledBy{ByFamily, ByPerson, ByDrawer}

// SettledReport is what was settled in a period and stood so at its end.
type SettledReport struct {
	By           SettledBy      `json:"by"`
	From         string         `json:"from" doc:"First day; empty: no bound"`
	To           string         `json:"to" doc:"Last day; empty: no bound"`
	Confirmed    int            `json:"confirmed"`
	Undetermined int            `json:"undetermined"`
	Groups       []SettledGroup `json:"groups" nullable:"false" doc:"In the order of their names"`
	// Cut: there is more, settled earlier than all that is told of.
	Cut   bool       `json:"cut" doc:"There are more than 2000 closings in the period: the report tells of the latest, and a shorter period is whole"`
	Since *time.Time `json:"since,omitempty" doc:"Of a report that is cut: it is whole from then on"`
}

// SettledGroup are the determinations of one person, family or drawer.
type SettledGroup struct {
	Key          string        `json:"key" doc:"Id of the person, or what Name is"`
	Name         string        `json:"name" doc:"Empty: of no drawer"`
	Confirmed    int           `json:"confirmed"`
	Undetermined int           `json:"undetermined"`
	Lines        []SettledLine `json:"lines" nullable:"false" doc:"The first settled first"`
}

// SettledLine is a determination of the period.
type SettledLine struct {
	SubmissionLine
	SettledAt time.Time     `json:"settled_at"`
	As        review.Status `json:"as" enum:"confirmed,undetermined" doc:"At the end of the period; status is that of today"`
	// Stands is the name by it: that of the family, or of what was left undetermined (review.Indet).
	Stands         string               `json:"stands" doc:"The name that is sure by it: of the family, or that of what was left undetermined"`
	Determination  review.Determination `json:"determination"`
	DeterminerName string               `json:"determiner_name"`
	// Sure is the lowest rank that is sure; empty where it was left undetermined.
	Sure review.Rank `json:"sure,omitempty" doc:"Lowest rank of the name that somebody else has agreed to; left out where it was left undetermined"`
}

// Settled is what was settled in a period, for those who may read what came about.
func (s *Service) Settled(ctx context.Context, actor review.Actor, by SettledBy, period review.Period) (SettledReport, error) {
	r := SettledReport{By: by, Groups: []SettledGroup{}}
	r.From, r.To = period.Days()
	if !slices.Contains(AllSettledBy, by) {
		return r, review.Invalidf("by", "must be one of family, person, drawer")
	}
	if err := mayReadChanges(actor, CameSettled); err != nil {
		return r, err
	}
	var lines []SettledLine
	cursor := ""
	for looked := 0; looked == 0 || cursor != "" && looked < MostSettled; looked += largestPage {
		found, next, err := s.store.FindTurns(ctx, cameBy[CameSettled], period, Page{Size: largestPage, Cursor: cursor})
		if err != nil {
			return r, err
		}
		changed, err := s.differences(ctx, actor, CameSettled, period, found)
		if err != nil {
			return r, err
		}
		some, err := s.settledLines(ctx, actor, changed)
		if err != nil {
			return r, err
		}
		lines, cursor = append(lines, some...), next
		if next != "" {
			r.Since = &found[len(found)-1].At
		}
	}
	if r.Cut = cursor != ""; !r.Cut {
		r.Since = nil
	}
	return r.grouped(lines), nil
}

// settledLines are differences with the names that were settled.
func (s *Service) settledLines(ctx context.Context, actor review.Actor, changed []ChangeLine) ([]SettledLine, error) {
	var ids, persons []string
	for _, l := range changed {
		ids = append(ids, l.ID)
	}
	found, err := s.store.SubmissionsWith(ctx, ids, s.unread().add)
	if err != nil {
		return nil, err
	}
	var lines []SettledLine
	for _, l := range changed {
		sub, ok := found[l.ID]
		if !ok {
			continue
		}
		line := SettledLine{SubmissionLine: l.SubmissionLine, SettledAt: l.At, As: l.After, Determination: sub.Determination, Stands: sub.Determination.Family}
		group := s.library.BuiltIn(sub.Group)
		switch {
		case group == nil:
		case l.After == review.StatusUndetermined:
			line.Stands = review.Indet(group.Tables().Group.Taxon, group.Tables().Group.Rank)
		case review.SealedFrom(actor, &sub): // opened again since
			line.Sure = review.Rank(group.Tables().Group.Rank)
		default:
			line.Sure = sub.SureRank(group.Tables().Group.Rank)
		}
		lines, persons = append(lines, line), append(persons, sub.Determination.Determiner)
	}
	names, err := s.names(ctx, persons)
	for i := range lines {
		lines[i].DeterminerName = names[lines[i].Determination.Determiner]
	}
	return lines, err
}

// grouped is the report with its groups, of lines of which the latest settled stand first.
func (r SettledReport) grouped(lines []SettledLine) SettledReport {
	at := map[string]int{}
	for _, l := range slices.Backward(lines) {
		key, name := l.groupedBy(r.By)
		i, known := at[key]
		if !known {
			i = len(r.Groups)
			at[key] = i
			r.Groups = append(r.Groups, SettledGroup{Key: key, Name: name})
		}
		g := &r.Groups[i]
		g.Lines = append(g.Lines, l)
		if l.As == review.StatusConfirmed {
			g.Confirmed++
			r.Confirmed++
		} else {
			g.Undetermined++
			r.Undetermined++
		}
	}
	slices.SortFunc(r.Groups, func(a, b SettledGroup) int { return cmp.Or(cmp.Compare(a.Name, b.Name), cmp.Compare(a.Key, b.Key)) })
	return r
}

func (l *SettledLine) groupedBy(by SettledBy) (key, name string) {
	switch by {
	case ByPerson:
		return l.Determination.Determiner, l.DeterminerName
	case ByDrawer:
		return l.Drawer, l.Drawer
	}
	return l.Stands, l.Stands
}

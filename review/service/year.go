package service

import (
	"cmp"
	"context"
	"slices"
	"time"

	"revidit/review"
	"revidit/review/audit"
)

const (
	// mostOfYear bounds how many acts of a kind a year's counts tell apart; one more stands for any number above.
	mostOfYear = 100_000
	// mostClosedOfYear is how many closed specimens of a year are read for who took part, the latest: as agreement rests on.
	mostClosedOfYear = surveyed
)

// YearCount is what is counted in a year.
type YearCount string

// What is counted: acts, each once, whatever has become of it since.
const (
	YearReceived     YearCount = "received" // came before reviewers
	YearSettled      YearCount = "settled"
	YearUndetermined YearCount = "undetermined" // left so
	YearRedetermined YearCount = "redetermined"
	YearReopened     YearCount = "reopened"
	YearWithdrawn    YearCount = "withdrawn"
)

// YearCounts are all of them, in the order in which they are shown, with the kind of event.
var YearCounts = []YearCount{YearReceived, YearSettled, YearUndetermined, YearRedetermined, YearReopened, YearWithdrawn}

var countedBy = map[YearCount]string{YearReceived: "submitted", YearSettled: "confirmed", YearUndetermined: "undetermined", YearRedetermined: "redetermined",
	YearReopened: "reopened", YearWithdrawn: "withdrawn"}

// YearReport is what a section did in a year of UTC. Nothing of a year that is over changes any more.
type YearReport struct {
	Year   int               `json:"year"`
	Over   bool              `json:"over" doc:"The year is over: its figures do not change any more"`
	Group  string            `json:"group" doc:"Of closed, people, agreement and calibration; all else is of the whole collection"`
	Totals map[YearCount]int `json:"totals" doc:"Acts of the year; 100001 stands for any number above 100000 in a month"`
	Months []MonthOfYear     `json:"months" nullable:"false"`
	// Families are the determinations that were settled, the most first.
	Families    []FamilyOfYear    `json:"families" nullable:"false"`
	FamiliesCut bool              `json:"families_cut" doc:"More than 100000 were settled: the families are those of the latest"`
	Closed      ClosedOfYear      `json:"closed"`
	People      []PeopleOfYear    `json:"people" nullable:"false" doc:"Who took part, in totals of roles, or by name where the policy shows names"`
	Agreement   audit.Agreement   `json:"agreement"`
	Calibration audit.Calibration `json:"calibration"`
	Names       map[string]string `json:"names"`
}

// Period is that of the year.
func (r YearReport) Period() review.Period { return yearPeriod(r.Year) }

// MonthOfYear are the counts of a month, 1 to 12.
type MonthOfYear struct {
	Month  int               `json:"month" minimum:"1" maximum:"12"`
	Counts map[YearCount]int `json:"counts"`
}

// FamilyCount is how many submissions of a family were confirmed.
type FamilyCount struct {
	GroupID string
	Family  string
	Settled int
}

// FamilyOfYear is a family that was determined in a year.
type FamilyOfYear struct {
	Group   string `json:"group"`
	Family  string `json:"family"`
	Settled int    `json:"settled" doc:"Determinations of the year"`
	New     bool   `json:"new" doc:"None had been settled before the year"`
}

// ClosedOfYear are specimens of which the last submission was closed in a year.
type ClosedOfYear struct {
	Specimens int  `json:"specimens"`
	Disputed  int  `json:"disputed" doc:"Of these, those of which somebody disputed a character who had not been shown what others said"`
	Cut       bool `json:"cut" doc:"There are more than 5000: the latest were read"`
}

// PeopleOfYear is what people have said of the specimens closed in a year: those of a role, or one of them.
type PeopleOfYear struct {
	Person string      `json:"person,omitempty" doc:"Left out of a total"`
	Role   review.Role `json:"role"`
	People int         `json:"people"`
	// Observed, Judged and Blind are 0 in totals of fewer than review.LeastTotalled people, Few.
	Observed int  `json:"observed" doc:"Characters stated"`
	Judged   int  `json:"judged" doc:"Verdicts on what others stated"`
	Blind    int  `json:"blind" doc:"Looks without knowing what others saw"`
	Few      bool `json:"few,omitempty" doc:"Fewer than 3 people, whose numbers are left out because they could be told"`
}

func yearPeriod(year int) review.Period {
	from := time.Date(year, time.January, 1, 0, 0, 0, 0, time.UTC)
	return review.Period{From: from, Until: from.AddDate(1, 0, 0)}
}

// Year is the report on a year, for those who may read figures; 0 is the present one.
func (s *Service) Year(ctx context.Context, actor review.Actor, group string, year int) (r YearReport, err error) {
	if !review.May(actor, review.ActReadFigures, "") {
		return r, review.Forbidden(actor, review.ActReadFigures, "")
	}
	if r.Year = cmp.Or(year, s.now().UTC().Year()); r.Year < 1 || r.Year > 9998 {
		return r, review.Invalidf("year", "must be a year, such as 2026")
	}
	period := r.Period()
	r.Over = period.Over(s.now())
	if r.Agreement, r.Names, err = s.Agreement(ctx, actor, group, period); err != nil {
		return r, err
	}
	if r.Calibration, err = s.Calibration(ctx, actor, group, period); err != nil {
		return r, err
	}
	r.Group = r.Agreement.Group
	if err := s.countMonths(ctx, &r); err != nil {
		return r, err
	}
	if err := s.countFamilies(ctx, &r); err != nil {
		return r, err
	}
	return r, s.tookPart(ctx, &r)
}

func (s *Service) countMonths(ctx context.Context, r *YearReport) error {
	r.Totals = map[YearCount]int{}
	for from := r.Period().From; from.Year() == r.Year; from = from.AddDate(0, 1, 0) {
		m := MonthOfYear{Month: int(from.Month()), Counts: map[YearCount]int{}}
		for _, which := range YearCounts {
			n, err := s.store.CountTurns(ctx, []string{countedBy[which]}, review.Period{From: from, Until: from.AddDate(0, 1, 0)}, mostOfYear+1)
			if err != nil {
				return err
			}
			m.Counts[which] = n
			r.Totals[which] += n
		}
		r.Months = append(r.Months, m)
	}
	return nil
}

func (s *Service) countFamilies(ctx context.Context, r *YearReport) error {
	counted, err := s.store.CountFamilies(ctx, r.Period(), mostOfYear)
	if err != nil {
		return err
	}
	r.Families, r.FamiliesCut = []FamilyOfYear{}, r.Totals[YearSettled] > mostOfYear
	for _, c := range counted {
		before, err := s.store.SettledBefore(ctx, c.GroupID, c.Family, r.Period().From)
		if err != nil {
			return err
		}
		r.Families = append(r.Families, FamilyOfYear{Group: c.GroupID, Family: c.Family, Settled: c.Settled, New: !before})
	}
	slices.SortStableFunc(r.Families, func(a, b FamilyOfYear) int {
		return cmp.Or(cmp.Compare(b.Settled, a.Settled), cmp.Compare(a.Family, b.Family))
	})
	return nil
}

// tookPart reads who has said what of the specimens that were closed in the year.
func (s *Service) tookPart(ctx context.Context, r *YearReport) error {
	f := closingsOf(r.Group, r.Period(), review.FoundAgreement)
	few, err := s.store.FewClosings(ctx, f, mostClosedOfYear)
	if err != nil {
		return err
	}
	r.Closed.Cut = !few
	f.Unread = s.unread().add
	people := map[string]*PeopleOfYear{}
	err = s.closingsIn(ctx, f, mostClosedOfYear, func(c *Closing) error {
		r.Closed.Specimens++
		if took(people, &c.Testimony) {
			r.Closed.Disputed++
		}
		return nil
	})
	if err != nil {
		return err
	}
	policy, err := s.store.Policy(ctx)
	if err != nil {
		return err
	}
	if r.People = totalled(people); !policy.ShowsNames() {
		return nil
	}
	r.People = []PeopleOfYear{}
	var ids []string
	for id, p := range people {
		ids, r.People = append(ids, id), append(r.People, *p)
	}
	names, err := s.names(ctx, ids)
	for id, name := range names {
		r.Names[id] = name
	}
	slices.SortFunc(r.People, func(a, b PeopleOfYear) int {
		return cmp.Or(cmp.Compare(a.Role, b.Role), cmp.Compare(names[a.Person], names[b.Person]), cmp.Compare(a.Person, b.Person))
	})
	return err
}

// took adds what people have said of a specimen, and says whether a character was disputed.
func took(people map[string]*PeopleOfYear, c *review.Closed) (disputed bool) {
	of := func(person string, role review.Role) *PeopleOfYear {
		if people[person] == nil {
			people[person] = &PeopleOfYear{Person: person, Role: role, People: 1} // the role that they had last
		}
		return people[person]
	}
	for _, o := range c.Specimen.Observations {
		of(o.By, o.Role).Observed++
	}
	for _, sub := range c.Submissions {
		for _, v := range sub.Verdicts {
			of(v.By, v.Role).Judged++
			disputed = disputed || v.Kind == review.VerdictDispute
		}
		for _, b := range sub.Blind {
			of(b.By, b.Role).Blind++
		}
	}
	return disputed
}

// totalled are the totals of roles; of too few people their numbers are left out.
func totalled(people map[string]*PeopleOfYear) []PeopleOfYear {
	totals := []PeopleOfYear{}
	for _, role := range review.Roles {
		t := PeopleOfYear{Role: role}
		for _, p := range people {
			if p.Role == role {
				t.People, t.Observed, t.Judged, t.Blind = t.People+1, t.Observed+p.Observed, t.Judged+p.Judged, t.Blind+p.Blind
			}
		}
		if t.People > 0 && t.People < review.LeastTotalled {
			t = PeopleOfYear{Role: role, People: t.People, Few: true}
		}
		if t.People > 0 {
			totals = append(totals, t)
		}
	}
	return totals
}
